package notebook

// everyCurve is the word of `compare` for all parametric methods.
const everyCurve = "all"

// readCompare reads `compare`: parametric methods, or all of them.
func (r *askReader) readCompare(key string, n node) {
	if n.kind == nodeText && n.text == everyCurve {
		r.ask.Compare = ParametricMethods()
		return
	}
	for _, it := range r.list(key, n) {
		if m := r.word(key, it, ParametricMethods()); m != "" {
			r.ask.Compare = append(r.ask.Compare, m)
		}
	}
}

// checkShapes reports a comparison with nothing to compare.
func (r *askReader) checkShapes() {
	a := r.ask
	if len(a.Compare) == 1 && a.Compare[0] == a.Method {
		r.fail(a.At("compare", a.Method), CodeImpossible, "`compare` names nothing but the method itself; name the curves to hold %s against, or write `compare: %s`", a.Method, everyCurve)
	}
}
