"""Where bulletins come from: files, and a weather service's caches over HTTP."""
