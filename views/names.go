package views

import (
	"strconv"
	"text/template/parse"
)

// thePage is how layout.html calls the page it is laid around.
const thePage = "page"

// renameCalls gives the templates that nodes call, or ask what to load for, the
// names that called has for them.
func renameCalls(nodes *parse.ListNode, called map[string]string) {
	eachNode(nodes, func(node parse.Node) {
		switch node := node.(type) {
		case *parse.TemplateNode:
			if to, ok := called[node.Name]; ok {
				node.Name = to
			}
		case *parse.WithNode:
			for _, command := range node.Pipe.Cmds {
				if asks, ok := command.Args[0].(*parse.IdentifierNode); !ok || asks.Ident != "loads" {
					continue
				}
				if page, ok := command.Args[1].(*parse.StringNode); ok && called[page.Text] != "" {
					page.Text = called[page.Text]
					page.Quoted = strconv.Quote(page.Text)
				}
			}
		}
	})
}

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
