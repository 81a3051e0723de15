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
	if nodes == nil {
		return
	}
	for _, node := range nodes.Nodes {
		switch node := node.(type) {
		case *parse.TemplateNode:
			if to, ok := called[node.Name]; ok {
				node.Name = to
			}
		case *parse.IfNode:
			renameBranch(&node.BranchNode, called)
		case *parse.RangeNode:
			renameBranch(&node.BranchNode, called)
		case *parse.WithNode:
			renameBranch(&node.BranchNode, called)
		}
	}
}

func renameBranch(b *parse.BranchNode, called map[string]string) {
	for _, command := range b.Pipe.Cmds {
		if asks, ok := command.Args[0].(*parse.IdentifierNode); !ok || asks.Ident != "loads" {
			continue
		}
		if page, ok := command.Args[1].(*parse.StringNode); ok && called[page.Text] != "" {
			page.Text = called[page.Text]
			page.Quoted = strconv.Quote(page.Text)
		}
	}
	renameCalls(b.List, called)
	renameCalls(b.ElseList, called)
}
