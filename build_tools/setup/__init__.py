"""What stands before all else: the environment, the programs in it, results kept between runs."""
