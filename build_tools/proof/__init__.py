"""What the guide promises, over which streets, and the evidence for it."""
