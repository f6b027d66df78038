package notebook

// values reads a map of column to single value.
func (r *askReader) values(into *map[string]string) func(string, node) {
	return func(key string, n node) {
		for _, e := range r.pairs(key, n) {
			if *into == nil {
				*into = map[string]string{}
			}
			(*into)[e.key] = e.value.text
		}
	}
}

// pairs are the entries of such a map.
func (r *askReader) pairs(key string, n node) []entry {
	if n.kind != nodeMap || len(n.entries) == 0 {
		r.fail(n.pos, CodeWrongType, "`%s` takes {column: value}", key)
		return nil
	}
	var out []entry
	seen := map[string]Pos{}
	for _, e := range n.entries {
		if p, ok := seen[e.key]; ok {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` in `%s` stands on line %d already", e.key, key, p.Line)
			continue
		}
		seen[e.key] = e.keyPos
		if r.text(e.key, e.value) != "" {
			out = append(out, e)
		}
	}
	return out
}

func (r *askReader) readTimes(key string, n node) {
	seen := map[float64]bool{}
	for _, it := range r.list(key, n) {
		d := r.duration(key, it)
		if d == nil {
			continue
		}
		if seen[d.Days] {
			r.fail(it.pos, CodeBadValue, "`%s` lists the same time twice", key)
			continue
		}
		seen[d.Days] = true
		r.ask.Times = append(r.ask.Times, *d)
	}
}

func (r *askReader) readQuantiles(key string, n node) {
	for _, it := range r.list(key, n) {
		before := len(r.errs)
		if v := r.fraction(key, it); len(r.errs) == before {
			r.ask.Quantiles = append(r.ask.Quantiles, v)
		}
	}
}

func (r *askReader) readProfiles(key string, n node) {
	items := []node{n}
	if n.kind == nodeList {
		items = n.items
	}
	if len(items) == 0 {
		r.fail(n.pos, CodeWrongType, "the list of `%s` is empty", key)
	}
	for _, it := range items {
		p := Profile{Values: map[string]string{}, Pos: it.pos}
		for _, e := range r.pairs(key, it) {
			p.Columns = append(p.Columns, e.key)
			p.Values[e.key] = e.value.text
		}
		r.ask.Profiles = append(r.ask.Profiles, p)
	}
}

// readInteract reads the pairs of columns whose products enter a model:
// [[age, cause]], or one pair alone.
func (r *askReader) readInteract(key string, n node) {
	pairs := n.items
	if n.kind == nodeList && len(n.items) == 2 && n.items[0].kind == nodeText {
		pairs = []node{n}
	}
	if n.kind != nodeList || len(pairs) == 0 {
		r.fail(n.pos, CodeWrongType, "`%s` is a list of pairs of columns, such as [[age, cause]]", key)
		return
	}
	for _, p := range pairs {
		if p.kind != nodeList || len(p.items) != 2 || p.items[0].kind != nodeText || p.items[1].kind != nodeText {
			r.fail(p.pos, CodeWrongType, "each of `%s` is a pair of columns, such as [age, cause]", key)
			continue
		}
		r.ask.Interact = append(r.ask.Interact, [2]string{p.items[0].text, p.items[1].text})
	}
}
