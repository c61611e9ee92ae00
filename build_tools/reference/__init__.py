"""What authors look up: every field, finding and name, told from the models and tables themselves."""
