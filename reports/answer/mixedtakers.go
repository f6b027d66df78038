package answer

import (
	"fmt"
	"slices"

	"plybook/analysis/mixed"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// takers finds who takes the readings foretold: for each column of `crossed`,
// and for that of `scatter_by`, the value that `taken_by` has, else anybody.
func (f *nextReadings) takers() error {
	j := f.mixedJob
	f.kind = mixed.Unknown
	place := func(column string, names []string) (int, error) {
		v, ok := j.ask.TakenBy[column]
		if !ok {
			return mixed.Unknown, nil
		}
		if staffColumns[column] && !j.ctx.Names.Staff {
			return 0, j.at("taken_by", v, "identifying", "a single %s is not told of here; leave %s out of `taken_by`", nounOf(column), column)
		}
		at := slices.Index(names, v)
		if at >= 0 {
			return at, nil
		}
		near := notebook.Nearest(v, names)
		text := fmt.Sprintf("no row used has %s %q, so that nothing is known of its readings", column, v)
		if near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		return 0, &notebook.Error{Pos: j.ask.At("taken_by", v), Code: "unknown-taker", Text: text, Nearest: near}
	}
	var err error
	first := len(j.groupings) - len(j.data.Crossed)
	for k := range j.data.Crossed {
		g := j.groupings[first+k]
		at, err := place(g.column, g.names)
		if err != nil {
			return err
		}
		f.crossed = append(f.crossed, at)
	}
	if len(j.kinds) > 0 {
		f.kind, err = place(j.ask.ScatterBy, j.kinds)
	}
	return err
}

// takerWords say who is taken to take the readings; "" where the model does
// not tell one from another.
func (f *nextReadings) takerWords() string {
	j := f.mixedJob
	var named, anybody []string
	say := func(column string) {
		if v, ok := j.ask.TakenBy[column]; ok {
			if text := nounOf(column) + " " + v; !slices.Contains(named, text) {
				named = append(named, text)
			}
		} else if n := nounOf(column); !slices.Contains(anybody, n) {
			anybody = append(anybody, n)
		}
	}
	for _, c := range j.ask.Crossed {
		say(c)
	}
	if c := j.ask.ScatterBy; c != "" {
		say(c)
	}
	text := ""
	if len(named) > 0 {
		text = fmt.Sprintf("Next readings are those of %s.", words.List(named))
	}
	if len(anybody) > 0 {
		if text != "" {
			text += " "
		}
		text += fmt.Sprintf("Next readings may be of any %s, and the limits hold how far these differ; the %s's own line leaves that out.", words.List(anybody), j.one)
	}
	return text
}

// methods writes how readings to come were foretold.
func (f *nextReadings) methods() {
	j := f.mixedJob
	r := f.readings[0]
	j.Methods += fmt.Sprintf(" Readings to come of one %s are best linear unbiased predictions; their limits hold what is not known of the fixed effects and of that %s and the scatter of a reading", j.one, j.one)
	if r.Known {
		j.Methods += ", variances being taken as known"
	} else {
		j.Methods += ", and that the variances are estimates (Prasad and Rao's correction)"
		j.References = append(j.References, "Kackar RN, Harville DA. Approximations for standard errors of estimators of fixed and random effects in mixed linear models. J Am Stat Assoc 1984; 79: 853-862.",
			"Prasad NGN, Rao JNK. The estimation of the mean squared error of small-area estimators. J Am Stat Assoc 1990; 85: 163-171.")
	}
	j.Methods += fmt.Sprintf("; they are Student's, the first on %s degrees of freedom. Other columns were held as at its last row.", words.Plain(r.DF))
	j.References = append(j.References, "Henderson CR. Best linear unbiased estimation and prediction under a selection model. Biometrics 1975; 31: 423-447.")
}
