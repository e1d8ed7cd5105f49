"""Files from outside: named, measured and read once in a process of their own before the desk
takes them in."""
