"""How long an aircraft's instruments last once its electrical supply has failed."""
