"""What bulletins say: reports, forecasts and winds aloft, decoded and never better than written."""
