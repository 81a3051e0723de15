package sayings

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strconv"
)

// pack is one package being looked through.
type pack struct {
	set       *token.FileSet
	files     []*ast.File
	wrappers  map[variable]wrapper    // functions that hand a format on, by name
	fields    map[string][]value      // what is put into a field of this name
	structs   map[string][]string     // fields of a struct, in order
	values    map[variable][]ast.Expr // what is assigned to a name
	functions map[string][]*ast.FuncDecl
	found     map[ast.Node][]string // the texts of an expression or a function, looked through before
}

// variable is a name in a function, or of the package.
type variable struct {
	in   *ast.FuncDecl
	name string
}

// value is an expression in a function.
type value struct {
	in *ast.FuncDecl
	ast.Expr
}

func newPack() *pack {
	return &pack{set: token.NewFileSet(), wrappers: map[variable]wrapper{}, fields: map[string][]value{}, structs: map[string][]string{},
		values: map[variable][]ast.Expr{}, functions: map[string][]*ast.FuncDecl{}, found: map[ast.Node][]string{}}
}

// each calls look with every node and the function it stands in.
func (p *pack) each(look func(in *ast.FuncDecl, node ast.Node)) {
	for _, file := range p.files {
		for _, one := range file.Decls {
			in, _ := one.(*ast.FuncDecl)
			ast.Inspect(one, func(node ast.Node) bool {
				if node != nil {
					look(in, node)
				}
				return true
			})
		}
	}
}

// wrapper is a function that takes a format: which of its parameters it is, and
// how many values go with it: the rest of the arguments from rest on, or fixed.
type wrapper struct{ format, rest, fixed int }

// speaks are the functions of packages plain and views that say something.
func speaks(name string) (wrapper, bool) {
	w, ok := map[string]wrapper{"T": {0, 1, 0}, "Say": {0, 1, 0}, "Refuse": {1, 2, 0}, "Unless": {2, 3, 0},
		"NewError": {1, -1, 0}}[name] // fiber's, whose message goes into a sentence
	return w, ok
}

func (p *pack) wrapper(in *ast.FuncDecl, call *ast.CallExpr) (wrapper, bool) {
	name := called(call)
	if from, method := call.Fun.(*ast.SelectorExpr); method && name == "text" { // f.Words.text, with one value in a slice
		if words, of := from.X.(*ast.SelectorExpr); of && words.Sel.Name == "Words" {
			return wrapper{0, -1, 1}, len(call.Args) == 2
		}
	}
	if _, own := call.Fun.(*ast.Ident); own {
		if w, ok := p.wrappers[variable{in, name}]; ok {
			return w, len(call.Args) > w.format
		}
	}
	if w, ok := p.wrappers[variable{nil, name}]; ok {
		return w, len(call.Args) > w.format
	}
	w, ok := speaks(name)
	if from, method := call.Fun.(*ast.SelectorExpr); method && name == "Say" {
		in, named := from.X.(*ast.Ident)
		ok = named && in.Name == "plain" // Frame's takes a sentence
	}
	return w, ok && len(call.Args) > w.format
}

func called(call *ast.CallExpr) string {
	switch function := call.Fun.(type) {
	case *ast.SelectorExpr:
		return function.Sel.Name
	case *ast.Ident:
		return function.Name
	}
	return ""
}

// look notes what the package declares and which of its functions hand on a format.
func (p *pack) look() {
	p.each(p.declared)
	p.each(func(in *ast.FuncDecl, node ast.Node) {
		if literal, ok := node.(*ast.CompositeLit); ok {
			p.composed(in, literal, literal.Type)
		}
	})
	for again := true; again; {
		again = false
		p.each(func(in *ast.FuncDecl, node ast.Node) {
			switch node := node.(type) {
			case *ast.FuncDecl:
				again = p.handsOn(variable{nil, node.Name.Name}, node, node.Type, node.Body) || again
			case *ast.AssignStmt:
				for i := range node.Rhs {
					name, isName := node.Lhs[i].(*ast.Ident)
					if function, ok := node.Rhs[i].(*ast.FuncLit); ok && isName {
						again = p.handsOn(variable{in, name.Name}, in, function.Type, function.Body) || again
					}
				}
			}
		})
	}
}

func (p *pack) declared(in *ast.FuncDecl, node ast.Node) {
	note := func(name string, e ast.Expr) { p.values[variable{in, name}] = append(p.values[variable{in, name}], e) }
	switch node := node.(type) {
	case *ast.FuncDecl:
		p.functions[node.Name.Name] = append(p.functions[node.Name.Name], node)
	case *ast.TypeSpec:
		if is, ok := node.Type.(*ast.StructType); ok {
			p.structs[node.Name.Name] = fieldsOf(is)
		}
	case *ast.ValueSpec:
		for i, name := range node.Names {
			if i < len(node.Values) {
				note(name.Name, node.Values[i])
			}
		}
	case *ast.RangeStmt:
		if name, ok := node.Value.(*ast.Ident); ok {
			note(name.Name, node.X)
		}
	case *ast.AssignStmt:
		for i, left := range node.Lhs {
			right := node.Rhs[0]
			if len(node.Rhs) == len(node.Lhs) {
				right = node.Rhs[i]
			}
			switch left := left.(type) {
			case *ast.Ident:
				note(left.Name, right)
			case *ast.SelectorExpr:
				p.fields[left.Sel.Name] = append(p.fields[left.Sel.Name], value{in, right})
			}
		}
	}
}

func fieldsOf(is *ast.StructType) (names []string) {
	for _, field := range is.Fields.List {
		for _, name := range field.Names {
			names = append(names, name.Name)
		}
		if len(field.Names) == 0 {
			names = append(names, "")
		}
	}
	return names
}

// composed notes what a literal of type is puts into which field.
func (p *pack) composed(in *ast.FuncDecl, literal *ast.CompositeLit, is ast.Expr) {
	var element ast.Expr
	var names []string
	switch is := is.(type) {
	case *ast.ArrayType:
		element = is.Elt
	case *ast.MapType:
		element = is.Value
	case *ast.StructType:
		names = fieldsOf(is)
	case *ast.Ident:
		names = p.structs[is.Name]
	}
	if star, ok := element.(*ast.StarExpr); ok {
		element = star.X
	}
	for i, one := range literal.Elts {
		if pair, ok := one.(*ast.KeyValueExpr); ok {
			if name, ok := pair.Key.(*ast.Ident); ok && element == nil {
				p.fields[name.Name] = append(p.fields[name.Name], value{in, pair.Value})
			}
			one = pair.Value
		} else if i < len(names) {
			p.fields[names[i]] = append(p.fields[names[i]], value{in, one})
		}
		if inner, ok := one.(*ast.CompositeLit); ok && inner.Type == nil {
			p.composed(in, inner, element)
		}
	}
}

// handsOn notes a function one of whose parameters is the format of another, and
// tells whether that is news.
func (p *pack) handsOn(name variable, in *ast.FuncDecl, is *ast.FuncType, body *ast.BlockStmt) bool {
	if _, known := p.wrappers[name]; known || body == nil {
		return false
	}
	if _, known := speaks(name.name); known {
		return false
	}
	at, position, rest := map[string]int{}, 0, -1
	for _, field := range is.Params.List {
		_, variadic := field.Type.(*ast.Ellipsis)
		for _, parameter := range field.Names {
			at[parameter.Name] = position
			if variadic {
				rest = position
			}
			position++
		}
	}
	found := false
	ast.Inspect(body, func(node ast.Node) bool {
		call, ok := node.(*ast.CallExpr)
		if !ok || found {
			return !found
		}
		inner, ok := p.wrapper(in, call)
		if !ok {
			return true
		}
		if format, ok := call.Args[inner.format].(*ast.Ident); ok {
			if i, ours := at[format.Name]; ours {
				w := wrapper{i, -1, inner.fixed}
				if inner.rest >= 0 {
					w.fixed = len(call.Args) - inner.rest
				}
				if call.Ellipsis.IsValid() {
					w.rest = rest
				}
				p.wrappers[name], found = w, true
			}
		}
		return !found
	})
	return found
}

func (p *pack) sayings() (all, unseen []Saying) {
	p.each(func(in *ast.FuncDecl, node ast.Node) {
		switch node := node.(type) {
		case *ast.FuncDecl:
			if node.Name.Name == "String" && node.Recv != nil {
				ast.Inspect(node, func(inner ast.Node) bool {
					if back, ok := inner.(*ast.ReturnStmt); ok && len(back.Results) == 1 {
						if word, ok := literal(back.Results[0]); ok && word != "" {
							all = append(all, Saying{p.set.Position(back.Pos()).String(), word, 0})
						}
					}
					return true
				})
			}
		case *ast.CallExpr:
			w, ok := p.wrapper(in, node)
			if !ok {
				return
			}
			args := w.fixed
			switch {
			case node.Ellipsis.IsValid():
				args = -1
			case w.rest >= 0:
				args = len(node.Args) - w.rest
			}
			where := p.set.Position(node.Pos()).String()
			words := p.words(in, node.Args[w.format])
			for _, word := range words {
				if word != "" {
					all = append(all, Saying{where, word, args})
				}
			}
			if len(words) == 0 && !handed(in, node.Args[w.format]) {
				unseen = append(unseen, Saying{where, types.ExprString(node.Args[w.format]), args})
			}
		}
	})
	return all, unseen
}

// words are the texts an expression may be, each once.
func (p *pack) words(in *ast.FuncDecl, e ast.Expr) (words []string) {
	if text, ok := literal(e); ok {
		return []string{text}
	}
	if words, before := p.found[e]; before {
		return words
	}
	p.found[e] = nil // what leads back here adds nothing
	all := func(in *ast.FuncDecl, of ...ast.Expr) {
		for _, one := range of {
			words = append(words, p.words(in, one)...)
		}
	}
	switch e := e.(type) {
	case *ast.ParenExpr:
		all(in, e.X)
	case *ast.Ident:
		all(in, p.values[variable{in, e.Name}]...)
		if len(words) == 0 {
			all(nil, p.values[variable{nil, e.Name}]...)
		}
	case *ast.SelectorExpr:
		if e.Sel.IsExported() { // a Name or Text of another thing altogether
			break
		}
		for _, one := range p.fields[e.Sel.Name] {
			all(one.in, one.Expr)
		}
	case *ast.IndexExpr:
		all(in, e.X)
	case *ast.CompositeLit:
		for _, one := range e.Elts {
			if pair, ok := one.(*ast.KeyValueExpr); ok {
				one = pair.Value
			}
			all(in, one)
		}
	case *ast.CallExpr:
		if called(e) == "String" { // of any type
			break
		}
		if called(e) == "append" {
			all(in, e.Args...)
			break
		}
		for _, function := range p.functions[called(e)] {
			words = append(words, p.returned(function)...)
		}
		if len(words) == 0 && p.functions[called(e)] != nil { // nameOf(unitNames(), …)
			all(in, e.Args...)
		}
	}
	slices.Sort(words)
	words = slices.Compact(words)
	p.found[e] = words
	return words
}

// returned are the texts a function returns.
func (p *pack) returned(function *ast.FuncDecl) (words []string) {
	if words, before := p.found[function]; before || function.Body == nil {
		return words
	}
	p.found[function] = nil
	ast.Inspect(function.Body, func(node ast.Node) bool {
		if back, ok := node.(*ast.ReturnStmt); ok {
			for _, one := range back.Results {
				words = append(words, p.words(function, one)...)
			}
		}
		return true
	})
	p.found[function] = words
	return words
}

// handed tells whether a format is a parameter, which the function hands on, or
// that of a sentence said elsewhere.
func handed(in *ast.FuncDecl, e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		return in != nil
	case *ast.SelectorExpr:
		return e.Sel.Name == "Format"
	}
	return false
}

// literal is the value of a string literal, or of several added up.
func literal(expression ast.Expr) (string, bool) {
	switch e := expression.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		return text, e.Kind == token.STRING && err == nil
	case *ast.BinaryExpr:
		left, ok := literal(e.X)
		right, also := literal(e.Y)
		return left + right, ok && also && e.Op == token.ADD
	case *ast.ParenExpr:
		return literal(e.X)
	}
	return "", false
}
