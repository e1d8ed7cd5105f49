"""Commands of one subject each, and the way all of them talk."""
