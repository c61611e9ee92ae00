"""What authors write, read: YAML with places, the models it must fit, a folder of files as one Guide."""
