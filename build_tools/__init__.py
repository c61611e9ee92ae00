"""The compiler: what authors write goes in, a checked guide that needs no network comes out."""
