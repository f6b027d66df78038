package batch

import (
	"regexp"
	"strings"

	"plybook/reports/document"
	"plybook/reports/notebook"
)

// term is a word that a reader from another field may not know. It stands in
// the glossary of a report whose text uses it.
type term struct {
	word    string
	used    *regexp.Regexp
	meaning string
}

// use makes a term; forms are the ways in which texts write it, parted by |.
func use(word, forms, meaning string) term {
	return term{word, regexp.MustCompile(`(?i)(?:^|[^\pL])(?:` + forms + `)(?:[^\pL]|$)`), meaning}
}

// glossary is in the order of the alphabet. Words of the trade are common
// practice, no source; words of statistics mean what textbooks mean by them.
var glossary = []term{
	use("adjusted, held equal", `adjusted|held equal`, "Compared as if the groups were alike in the other things named."),
	use("at risk", `at risk`, "Still watched at that time, and the ending has not come yet."),
	use("back-test", `back-tests?|back-tested`, "A forecast made for years that have passed, from what was known before them, and held against what came."),
	use("baseline", `baseline`, "The first points of a chart, from which its limits are worked out."),
	use("bootstrap", `bootstrap`, "Drawing the persons of the log again and again by chance, to see how far a result would move with other persons."),
	use("C statistic", `C statistic`, "How often, of two, the one with the higher predicted risk is the one to whom it happened: 0.5 is guessing, 1 is always."),
	use("censored", `censor\w*`, "The watching ended before the ending came; it counts for as long as it was watched."),
	use("check socket", `check sockets?`, "A socket for supervised fittings only, on which the shape is tried before the definitive one is made."),
	use("competing ending", `compet\w+`, "An ending after which the one asked about cannot come any more, such as a death before a remake."),
	use("cumulative incidence", `cumulative incidence|incidence`, "The share that has had the ending by a given time, other endings taken into account."),
	use("definitive socket", `definitives?`, "The socket made for everyday use once the limb has settled."),
	use("hazard ratio", `hazard ratios?`, "How many times as fast one group comes to the ending as another, at any moment; 1 is no difference."),
	use("interval", `95% intervals?|\d+% intervals?|intervals?`, "A range so made that, over many such logs, 95 of 100 of them would hold the true value; wide where there is little to go by."),
	use("intraclass correlation", `intraclass|ICC`, "How much of the scatter lies between limbs or persons rather than within them, from 0 to 1."),
	use("Kaplan-Meier curve", `Kaplan.Meier`, "The share still without the ending at each time, those no longer watched taken into account."),
	use("limits (of a chart)", `upper limit|lower limit|limits`, "What chance alone keeps the points between nearly always; a point beyond is a signal that something has changed."),
	use("log-rank test", `log-rank`, "A test of whether whole curves differ by more than chance."),
	use("mean time in use", `mean time in use`, "The average time until the ending within a stretch that is stated."),
	use("median, quartiles", `medians?|quartiles?`, "The value that half lie below; a quarter lies below the lower quartile and a quarter above the upper one."),
	use("odds ratio", `odds ratios?`, "The odds of an answer in one group divided by those in another; 1 is no difference. Not how many times as likely, unless the answer is rare."),
	use("p", `p [=<>]`, "How often chance alone would show a difference at least as large, if there were none. It does not say how large or how important a difference is."),
	use("phase", `phases?`, "A part of a chart with limits of its own, after a change whose cause is known."),
	use("plateau", `plateau`, "The volume that a limb settles to."),
	use("ply", `ply`, "The thickness of a sock in its maker's count; plies of several socks do not add up to a thickness."),
	use("preparatory socket", `preparator(?:y|ies)`, "An early socket, worn while the limb still shrinks."),
	use("proportional hazards", `proportional hazards`, "That the ratio between groups is the same at every time."),
	use("random intercept, random slope", `random (?:intercepts?|slopes?|effects?)`, "That each limb has a level, and a change over time, of its own."),
	use("rate ratio", `rate ratios?`, "How many times as often something happens in one group as in another, for the same time watched."),
	use("remake", `remakes?|remade`, "A socket replaced by a new one for a reason that the log names."),
	use("robust errors", `robust`, "Intervals that allow for sockets or visits of one person being alike."),
	use("standard deviation", `standard deviations?|sd`, "How far values lie from their average, typically."),
	use("standard error", `standard errors?`, "How far an estimate would move, typically, with other persons."),
	use("standardised difference", `standardised differences?`, "The difference of two groups in units of their scatter; above 0.1 is often looked at more closely."),
}

// terms are the words of a report that its readers may not know, for readers
// outside the lab.
func (r report) terms(blocks []document.Block) []document.Block {
	if r.nb.Front.Audience == notebook.Quality {
		return nil
	}
	text := strings.Join(document.Texts(blocks), "\n")
	t := document.Table{ID: "terms-table", Caption: "Terms used in this report", Columns: []document.TableColumn{{Head: "Term"}, {Head: "What it means", Wide: true}}}
	for _, g := range glossary {
		if g.used.MatchString(text) {
			t.Rows = append(t.Rows, []string{g.word, g.meaning})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []document.Block{document.Heading{Level: 1, Text: "Appendix: terms", ID: "terms"}, t}
}
