package demo

// sawnHere are the kinds of wood the mill lifts and has on its list.
func sawnHere() []string {
	return []string{"sugar maple", "northern red oak", "white ash", "yellow birch", "eastern hemlock", "red maple", "American beech", "black cherry", "eastern white pine", "paper birch"}
}
