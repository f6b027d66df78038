package answer

import (
	"fmt"
	"sort"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// cause is one kind of ending.
type cause struct {
	name     string
	reasons  []string
	past     string // "remade", "ended because ..."
	competes bool
	within   float64 // days from delivery within which it counts; 0: always
}

// named spells out causes: sets become their reasons, words are matched with
// the vocabulary of end reasons.
func (w *work) named(key string, spec *notebook.EventSpec) ([]cause, error) {
	var out []cause
	for _, c := range spec.Causes {
		if set, ok := w.ctx.Sets[c.Name]; ok {
			out = append(out, cause{name: c.Name, reasons: set, past: pastOf(c.Name)})
			continue
		}
		reason := ""
		for _, r := range w.ctx.Reasons {
			if strings.EqualFold(r, c.Name) || strings.EqualFold(strings.TrimPrefix(r, "remake: "), c.Name) {
				reason = r
			}
		}
		if reason == "" {
			words := append([]string(nil), w.ctx.Reasons...)
			for _, r := range w.ctx.Reasons {
				if short, ok := strings.CutPrefix(r, "remake: "); ok {
					words = append(words, short)
				}
			}
			for s := range w.ctx.Sets {
				words = append(words, s)
			}
			sort.Strings(words)
			near := table.Nearest(c.Name, words)
			text := fmt.Sprintf("%q under %s is neither a set of reasons nor an end reason", c.Name, key)
			if near != "" {
				text += fmt.Sprintf("; did you mean %q?", near)
			}
			return nil, &notebook.Error{Pos: c.Pos, Code: notebook.CodeBadValue, Text: text, Nearest: near}
		}
		out = append(out, cause{name: reason, reasons: []string{reason}, past: pastOf(reason)})
	}
	return out, nil
}

// pastOf says an ending as what happened to a socket.
func pastOf(name string) string {
	switch name {
	case "remake":
		return "remade"
	case "early-remake":
		return "remade early"
	case "making":
		return "remade for an error in the making"
	case "limb-change":
		return "remade because the limb changed"
	case "untraced":
		return "lost from sight"
	}
	if r, ok := strings.CutPrefix(name, "remake: "); ok {
		return "remade for " + r
	}
	if p, ok := pasts[name]; ok {
		return p
	}
	return "ended by " + name
}

// pasts are the endings other than remakes, as what became of a socket.
var pasts = map[string]string{
	"died": "ended by the person's death", "unknown": "ended for a reason not known", "planned step": "replaced as planned",
	"component or activity change": "ended by a change of component or activity", "preference": "ended by the person's preference",
	"lost or stolen": "lost or stolen", "lost to follow-up": "lost to follow-up", "moved away": "ended by the person's moving away",
	"stopped wearing": "no longer worn", "other": "ended for another reason",
}

// causeWords is a cause as a noun: what a share or a hazard is of.
func causeWords(name string) string {
	switch name {
	case "remake":
		return "a remake"
	case "early-remake":
		return "an early remake"
	case "making":
		return "a remake for an error in the making"
	case "limb-change":
		return "a remake for a change of the limb"
	case "untraced":
		return "loss from sight"
	case "died":
		return "death"
	case "unknown":
		return "an ending of unknown reason"
	case "other":
		return "an ending for another reason"
	}
	if r, ok := strings.CutPrefix(name, "remake: "); ok {
		return "a remake for " + r
	}
	return name
}

// eventCauses spells out the causes of an event by end reasons.
func (w *work) eventCauses(split bool) ([]cause, error) {
	named, err := w.named("event", w.ask.Event)
	if err != nil {
		return nil, err
	}
	for k := range named {
		if named[k].name == "early-remake" {
			named[k].within = w.ctx.Front.EarlyRemakeDays
			if len(named) > 1 {
				return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
					Text: "early-remake cannot be mixed with other events in one question; ask for it alone"}
			}
		}
	}
	if !split {
		return []cause{mergeCauses(named)}, nil
	}
	if w.ask.Method == "fine-gray" || w.ask.Method == "watch" {
		// One model is of one event, whatever reasons make it up.
		named = []cause{mergeCauses(named)}
	}
	competing, err := w.competing(named)
	if err != nil {
		return nil, err
	}
	return append(named, competing...), nil
}

func mergeCauses(in []cause) cause {
	if len(in) == 1 {
		return in[0]
	}
	var out cause
	seen := map[string]bool{}
	var names, pasts []string
	for _, c := range in {
		names, pasts = append(names, c.name), append(pasts, c.past)
		for _, r := range c.reasons {
			if !seen[r] {
				seen[r] = true
				out.reasons = append(out.reasons, r)
			}
		}
	}
	out.name, out.past = strings.Join(names, " or "), strings.Join(pasts, " or ")
	return out
}

// competing gives the competing causes: those asked for, else every recorded
// ending that is neither the event nor one that is merely lost from sight.
func (w *work) competing(events []cause) ([]cause, error) {
	taken := map[string]string{}
	for _, c := range events {
		for _, r := range c.reasons {
			if other, ok := taken[r]; ok && other != c.name {
				return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
					Text: fmt.Sprintf("%q belongs to both %s and %s; every ending must be one cause", r, other, c.name)}
			}
			taken[r] = c.name
		}
	}
	if w.ask.Competing != nil && !w.ask.Competing.Default {
		if w.ask.Competing.Condition != nil {
			return nil, &notebook.Error{Pos: w.ask.Competing.Pos, Code: notebook.CodeImpossible, Text: "competing takes end reasons, not a condition"}
		}
		named, err := w.named("competing", w.ask.Competing)
		if err != nil {
			return nil, err
		}
		for k, c := range named {
			for _, r := range c.reasons {
				if other, ok := taken[r]; ok {
					return nil, &notebook.Error{Pos: w.ask.Competing.Pos, Code: notebook.CodeImpossible,
						Text: fmt.Sprintf("%q is in both event (%s) and competing (%s)", r, other, c.name)}
				}
			}
			named[k].competes = true
		}
		return named, nil
	}
	var later []cause
	for _, c := range events {
		if c.within > 0 {
			// What happens after the limit is not the event, but it precludes
			// what else could have ended the socket.
			later = append(later, cause{name: "later remake", reasons: c.reasons, past: "remade later", competes: true})
		}
	}
	for _, r := range w.ctx.Sets["untraced"] {
		taken[r] = "untraced"
	}
	rest := cause{name: "other endings", past: "ended otherwise", competes: true}
	died := cause{name: "died", reasons: []string{"died"}, past: pastOf("died"), competes: true}
	for _, r := range w.ctx.Reasons {
		if taken[r] == "" && r != "died" {
			rest.reasons = append(rest.reasons, r)
		}
	}
	out := later
	if taken["died"] == "" {
		out = append(out, died)
	}
	if len(rest.reasons) > 0 {
		out = append(out, rest)
	}
	return out, nil
}
