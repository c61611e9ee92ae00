"""What an editor asks of a guide while it is written, by the Language Server Protocol."""
