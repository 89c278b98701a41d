// Nothing: the target's headers are what it is for.
