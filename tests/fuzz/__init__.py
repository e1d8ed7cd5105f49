"""Every reader of files from outside, fed with damaged files."""
