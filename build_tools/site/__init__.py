"""The built site: MkDocs with our pages, scripts joined, policy set, kept offline, swapped in whole."""
