"""Lines, index moves and areas, made by a seed."""
def cases(bodies, seed): return []
