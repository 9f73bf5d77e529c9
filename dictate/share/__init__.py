"""The second screen: the same live view in a browser of the practice, when that is asked for."""
