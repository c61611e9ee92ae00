"""One archive for whoever puts the guide on a web server: the site, and all that must be known about it."""
