"""The pages that the build makes of a guide, besides those that its authors wrote."""
