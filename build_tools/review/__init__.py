"""What a change to a guide does to behaviour, between folders or revisions."""
