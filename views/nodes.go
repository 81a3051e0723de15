package views

import "text/template/parse"

// eachNode visits the nodes of a template in the order they stand in, those within
// conditions and loops too; not those of the templates it calls.
func eachNode(nodes *parse.ListNode, visit func(parse.Node)) {
	if nodes == nil {
		return
	}
	for _, node := range nodes.Nodes {
		visit(node)
		var branch *parse.BranchNode
		switch node := node.(type) {
		case *parse.IfNode:
			branch = &node.BranchNode
		case *parse.RangeNode:
			branch = &node.BranchNode
		case *parse.WithNode:
			branch = &node.BranchNode
		default:
			continue
		}
		eachNode(branch.List, visit)
		eachNode(branch.ElseList, visit)
	}
}
