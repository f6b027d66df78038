package notebook

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

// mark stands in a test's source just before the character at which the
// fault must be shown.
const mark = "¦"

// unmark takes the mark out and returns where it stood.
func unmark(t *testing.T, src string) (string, string) {
	t.Helper()
	i := strings.Index(src, mark)
	if i < 0 || strings.Count(src, mark) != 1 {
		t.Fatalf("one mark is wanted in\n%s", src)
	}
	before := src[:i]
	line := strings.Count(before, "\n") + 1
	col := len([]rune(before[strings.LastIndexByte(before, '\n')+1:])) + 1
	if line == 1 {
		col -= strings.Count(before, "\ufeff")
	}
	return src[:i] + src[i+len(mark):], fmt.Sprintf("lab.md:%d:%d", line, col)
}

// settings in which each faulty ask is read: the place must be right in all.
var settings = []struct {
	name string
	wrap func(body string) string
}{
	{"plain", func(body string) string {
		return "---\ntitle: T\n---\n```ask\n" + body + "```\n"
	}},
	{"after prose and asks", func(body string) string {
		return "\n---\ntitle: |\n  A title\n  of two lines\n---\n# Größe\n\n- a list\n\n```ask\nid: other\nmethod: flow\nquestion: >\n  folded\n\n  text\n```\n\n~~~~ ask\n" + body + "~~~~~\n\nend\n"
	}},
	{"indented", func(body string) string {
		return "---\ntitle: T\n---\n1. Item\n\n   ```ask\n" + indent(body, "   ") + "   ```\n"
	}},
	{"indented deeply", func(body string) string {
		return "---\ntitle: T\n---\n- Item\n  - Inner\n\n      ```ask\n" + indent(body, "      ") + "      ```\n- next\n"
	}},
	{"indented within", func(body string) string {
		return "---\ntitle: T\n---\n```ask\n" + indent(body, "  ") + "```\n"
	}},
	{"indented with a tab", func(body string) string {
		return "---\ntitle: T\n---\n- Item\n\n\t```ask\n" + indent(body, "\t") + "\t```\n"
	}},
	{"CRLF and BOM", func(body string) string {
		return strings.ReplaceAll("\ufeff---\ntitle: T\n---\nText\n\n```ask\n"+body+"```\n", "\n", "\r\n")
	}},
	{"CR alone", func(body string) string {
		return "---\ntitle: T\n---\n```ask\n" + body + "```\n"
	}},
}

func indent(body, by string) string {
	lines := strings.SplitAfter(body, "\n")
	for i, l := range lines {
		if strings.TrimSpace(l) != "" {
			lines[i] = by + l
		}
	}
	return strings.Join(lines, "")
}

const (
	km       = "id: longevity\nmethod: kaplan-meier\n"
	forming  = "id: a\nmethod: forming-log\n"
	settling = "id: a\nmethod: maturation\n"
	volume   = "id: a\nmethod: limb-volume\n"
	multi    = "id: longevity\nquestion: 'It''s\n  a long\n\n  question'\nnote: |\n  one\n\n  two é\nkeep:\n  kind: [definitive,\n    check]   # a comment\n  any:\n    - {level: \"transtibial\",\n       cause: vascular}\nmethod: kaplan-meier\n"
	chart    = "id: c\nmethod: control-chart\nrows: sockets\n"
)

// Each case is the inside of an ask. near is the nearest word offered.
var faults = []struct {
	name, body, code, near, text string
}{
	// Keys.
	{"unknown key", km + "¦evnt: remake\n", CodeUnknownKey, "event", `there is no key "evnt"; did you mean "event"?`},
	{"unknown key after values on several lines", multi + "¦evnt: remake\n", CodeUnknownKey, "event", "event"},
	{"unknown key first", "¦idd: x\nid: a\nmethod: flow\n", CodeUnknownKey, "id", "id"},
	{"unknown key of no likeness", km + "¦zzzzzz: remake\n", CodeUnknownKey, "", "the keys are id, question, method, rows, keep, note, by"},
	{"key that is a number", km + "¦1: remake\n", CodeUnknownKey, "", "there is no key"},
	{"key of another method", km + "¦adjust: [age]\n", CodeKeyNotTaken, "", "kaplan-meier does not take `adjust`; cox, "},
	{"key of one other method", km + "¦repeats: gap-time\n", CodeKeyNotTaken, "", "kaplan-meier does not take `repeats`; cox does"},
	{"key of another method, misspelt", km + "¦adjus: [age]\n", CodeUnknownKey, "adjust", "adjust"},
	{"duplicate key", km + "by: level\n¦by: side\n", CodeDuplicateKey, "", "`by` stands on line"},
	{"duplicate key after values on several lines", multi + "by: level\n¦by: side\n", CodeDuplicateKey, "", "`by` stands on line"},
	{"duplicate method", km + "¦method: cox\n", CodeDuplicateKey, "", "`method` stands on line"},

	// Methods and words.
	{"unknown method", "id: a\nmethod: ¦kaplan-mayer\nby: level\n", CodeUnknownMethod, "kaplan-meier", "kaplan-meier"},
	{"unknown method in quotes", "id: a\nmethod: ¦\"cux\"\n", CodeUnknownMethod, "cox", "cox"},
	{"method without likeness", "id: a\nmethod: ¦sorcery\n", CodeUnknownMethod, "", "it can be agreement, caseload"},
	{"unknown rows", km + "rows: ¦socket\n", CodeBadValue, "sockets", "sockets"},
	{"unknown bounds", km + "bounds: ¦complementary log log\n", CodeBadValue, "complementary-log-log", "complementary-log-log"},
	{"unknown period", chart + "numerator: {first_fit: no}\nperiod: ¦monthly\n", CodeBadValue, "month", "month"},
	{"unknown chart", chart + "outcome: comfort\nchart: ¦xm\n", CodeBadValue, "xmr", "xmr"},
	{"unknown better", chart + "outcome: comfort\nbetter: ¦hihger\n", CodeBadValue, "higher", "higher"},

	// Settling.
	{"share left without its sign", settling + "left: ¦2\n", CodeBadValue, "2%", "did you mean 2%?"},
	{"share left too large", settling + "left: ¦60%\n", CodeBadValue, "", "below 50%"},
	{"rule without a source", settling + "settled: ¦{change: 3%, over: 60d}\n", CodeMissingKey, "", "`settled` needs `source`"},
	{"rule that is a share", settling + "settled: ¦3%\n", CodeWrongType, "", "where the rule comes from"},
	{"rule misspelt", settling + "settled: {¦chang: 3%, over: 60d, source: x, change: 3%}\n", CodeUnknownKey, "change", "has no"},
	{"rule with a share too large", settling + "settled: {change: ¦80%, over: 60d, source: x}\n", CodeBadValue, "", "`change` is a share"},
	{"plateaus alike", settling + "¦vary: initial\n", CodeImpossible, "", "names plateau always"},
	{"unknown to vary", settling + "vary: [plateau, ¦rat]\n", CodeBadValue, "rate", "rate"},
	// The limb.
	{"axes without a source", volume + "axes: ¦{ratio: 1.2}\n", CodeMissingKey, "", "`axes` needs `source`"},
	{"axes both ways", volume + "axes: ¦{widths: [a, b], ratio: 1.2, source: x}\n", CodeImpossible, "", "not both"},
	{"axes of nothing", volume + "axes: ¦{source: x}\n", CodeMissingKey, "", "`axes` takes"},
	{"axes that are a number", volume + "axes: ¦1.2\n", CodeWrongType, "", "`axes` takes"},
	{"axes misspelt", volume + "axes: {¦rato: 1.2, ratio: 1.2, source: x}\n", CodeUnknownKey, "ratio", "has no"},
	{"axes too far apart", volume + "axes: {ratio: ¦7, source: x}\n", CodeBadValue, "", "from 0.2 to 5"},
	{"one width", volume + "axes: {widths: ¦[a]}\n", CodeBadValue, "", "two columns"},
	{"unknown sides", volume + "sides: ¦curve\n", CodeBadValue, "curved", "curved"},
	{"limb without times", settling + "¦limb: P1-L\n", CodeMissingKey, "", "after each of `times`"},
	{"times without limb", settling + "¦times: 30d\n", CodeMissingKey, "", "one `limb` is foretold"},

	// Ranges of forming.
	{"range without a source", forming + "ranges: ¦{material: PETG, oven_c: 160..175}\n", CodeMissingKey, "", "needs `source`, the sheet maker's paper"},
	{"range without a sheet", forming + "ranges: [¦{oven_c: 160..175, source: x}]\n", CodeMissingKey, "", "needs `material`"},
	{"range of nothing", forming + "ranges: [¦{material: PETG, source: x}]\n", CodeMissingKey, "", "at least one of `oven_c`"},
	{"range misspelt", forming + "ranges: [{material: PETG, ¦oven: 160..175, source: x}]\n", CodeUnknownKey, "oven_c", "has no \"oven\""},
	{"range that is a number", forming + "ranges: [{material: PETG, oven_c: ¦160, source: x}]\n", CodeBadRange, "", "such as 160..175"},
	{"range from high to low", forming + "ranges: [{material: PETG, oven_c: ¦175..160, source: x}]\n", CodeBadRange, "", "ends before it begins"},
	{"range of shares above one", forming + "ranges: [{material: PETG, flipped: ¦45..55, source: x}]\n", CodeBadRange, "", "such as 45%..55%"},
	{"range of one percent sign", forming + "ranges: [{material: PETG, flipped: ¦45..55%, source: x}]\n", CodeBadRange, "45%..55%", "did you mean 45%..55%?"},
	{"range in percent", forming + "ranges: [{material: PETG, minutes: ¦45%..55%, source: x}]\n", CodeBadRange, "", "such as 160..175"},
	{"range that stands twice", forming + "ranges: [{material: PETG, minutes: 10..15, source: x}, ¦{material: petg, oven_c: 160..175, source: y}]\n", CodeImpossible, "", "stands on line"},
	{"range that is text", forming + "ranges: [¦PETG]\n", CodeWrongType, "", "each of `ranges` is"},

	// Ids.
	{"id with a space", "id: ¦how long\nmethod: flow\n", CodeBadID, "how-long", "letters, digits and hyphens"},
	{"id with an umlaut", "id: ¦größe\nmethod: flow\n", CodeBadID, "gr-e", "letters, digits and hyphens"},
	{"id too long", "id: ¦" + strings.Repeat("x", 61) + "\nmethod: flow\n", CodeBadID, strings.Repeat("x", 60), "at most 60"},

	// Types.
	{"list for a value", km + "by: ¦[level, side]\n", CodeWrongType, "", "`by` takes a single value, not a list"},
	{"list for a value, on lines", km + "by:\n  ¦- level\n  - side\n", CodeWrongType, "", "`by` takes a single value"},
	{"map for a value", km + "by: ¦{a: b}\n", CodeWrongType, "", "not a map"},
	{"map for a value, on lines", km + "by:\n  ¦a: b\n", CodeWrongType, "", "not a map"},
	{"nothing", km + "¦by:\n", CodeWrongType, "", "`by` has no value"},
	{"null", km + "by: ¦~\n", CodeWrongType, "", "`by` has no value"},
	{"empty text", km + "by: ¦''\n", CodeWrongType, "", "`by` has no value"},
	{"map for a list", "id: a\nmethod: cox\nadjust: ¦{age: 4}\n", CodeWrongType, "", "`adjust` takes a list, not a map"},
	{"list in a list", "id: a\nmethod: cox\nadjust: [age, ¦[b]]\n", CodeWrongType, "", "a single value, not a list"},
	{"twice in a list", "id: a\nmethod: cox\nadjust: [age, side, ¦age]\n", CodeBadValue, "", "lists \"age\" twice"},
	{"empty list", "id: a\nmethod: cox\nadjust: ¦[]\n", CodeWrongType, "", "is empty"},
	{"text for yes", km + "event: {ply: 10..}\nseen_as_exact: ¦maybe\n", CodeWrongType, "", "true or false"},
	{"text for a number", chart + "outcome: x\ngoal: ¦high\n", CodeWrongType, "", "takes a number"},
	{"hexadecimal for a number", chart + "outcome: x\ngoal: ¦0x1F\n", CodeWrongType, "", "takes a number"},
	{"number too small", chart + "outcome: x\nbaseline_points: ¦2\n", CodeBadValue, "", "from 3 to 1000"},
	{"number not whole", chart + "outcome: x\nbaseline_points: ¦12.5\n", CodeBadValue, "", "whole number"},
	{"percent for a fraction", km + "confidence: ¦95\n", CodeBadValue, "0.95", "did you mean 0.95?"},
	{"fraction beyond", km + "quantiles: [0.5, ¦0]\n", CodeBadValue, "", "between 0 and 1"},
	{"goal beyond", chart + "numerator: {a: b}\n¦goal: 80\n", CodeBadValue, "", "0% and 100%"},

	// Durations.
	{"duration without unit", km + "times: [¦90, 1y]\n", CodeBadDuration, "90d", "did you mean 90d?"},
	{"duration with a word", km + "times: [90d, ¦1 year]\n", CodeBadDuration, "", "such as 90d"},
	{"duration of nothing", km + "until: ¦0d\n", CodeBadDuration, "", "above 0"},
	{"duration negative", km + "landmark: ¦-90d\n", CodeBadDuration, "", "such as 90d"},
	{"duration twice", km + "times: [1y, 90d, ¦12m]\n", CodeBadValue, "", "the same time twice"},

	// Conditions.
	{"keep is text", km + "keep: ¦definitive\n", CodeWrongType, "", "takes {column: value}"},
	{"keep is a list", km + "keep: ¦[a, b]\n", CodeWrongType, "", "not a list"},
	{"keep is empty", km + "keep: ¦{}\n", CodeWrongType, "", "no condition"},
	{"keep without value", km + "keep: {kind: check, ¦level: }\n", CodeWrongType, "", "write missing"},
	{"keep without colon", km + "keep: {¦definitive}\n", CodeWrongType, "", "write missing"},
	{"keep column twice", km + "keep: {age: 5.., kind: check, ¦age: ..9}\n", CodeDuplicateKey, "", "`age` in `keep` stands on line"},
	{"keep with a map", km + "keep: {age: ¦{over: 5}}\n", CodeWrongType, "", "not a map"},
	{"keep compares", km + "keep: {age: ¦<= 65}\n", CodeBadRange, "..65", "did you mean ..65?"},
	{"keep compares otherwise", km + "keep: {age: ¦≥65}\n", CodeBadRange, "65..", "did you mean 65..?"},
	{"range backwards", km + "keep: {age: ¦65..18}\n", CodeBadRange, "18..65", "did you mean 18..65?"},
	{"range of days backwards", km + "keep: {delivered: ¦2025-01-01..2024-01-01}\n", CodeBadRange, "2024-01-01..2025-01-01", "backwards"},
	{"range of words", km + "keep: {level: ¦a..b}\n", CodeBadRange, "", "must be in quotes"},
	{"range of nothing", km + "keep: {level: ¦..}\n", CodeBadRange, "", "18..65"},
	{"range of a day that is none", km + "keep: {delivered: ¦2024-02-30..}\n", CodeBadDate, "", "2024-02-30 is not a day"},
	{"range of mixed ends", km + "keep: {delivered: ¦5..2024-02-03}\n", CodeBadRange, "", "two numbers or two days"},
	{"range in a list", km + "keep: {age: [3, ¦18..65]}\n", CodeBadRange, "", "any: [{age"},
	{"missing in a list", km + "keep: {cause: [vascular, ¦missing]}\n", CodeBadValue, "", "any: [{cause"},
	{"any is a map", km + "keep: {any: ¦{a: b}}\n", CodeWrongType, "", "`any` takes a list"},
	{"any of text", km + "keep: {any: [{a: b}, ¦c]}\n", CodeWrongType, "", "`keep.any` takes {column: value}"},
	{"any, deep, on lines", km + "keep:\n  kind: check\n  any:\n    - side: left\n    - age: 5..\n      level: ¦9..5\n", CodeBadRange, "5..9", "backwards"},
	{"numerator is text", chart + "numerator: ¦counts\n", CodeBadValue, "count", "count"},

	// Contradictions.
	{"exact needs a condition", km + "event: remake\n¦seen_as_exact: true\n", CodeImpossible, "", "condition on visits"},
	{"a condition is seen at visits", km + "event: ¦{ply: 10..}\n", CodeImpossible, "", "seen_as_exact: true"},
	{"a condition on lines is seen at visits", km + "event:\n  ¦finding: ulcer\n", CodeImpossible, "", "seen_as_exact: true"},
	{"an ending is dated", "id: a\nmethod: turnbull\nevent: ¦remake\n", CodeImpossible, "", "kaplan-meier takes it"},
	{"seed in words", "id: a\nmethod: turnbull\nevent: {ply: 10..}\nseed: ¦any\n", CodeWrongType, "", "number"},
	{"seed of nothing", "id: a\nmethod: turnbull\nevent: {ply: 10..}\nseed: ¦0\n", CodeBadValue, "", "from 1 to"},
	{"exact in turnbull", "id: a\nmethod: turnbull\nevent: {ply: 10..}\n¦seen_as_exact: true\n", CodeKeyNotTaken, "", "turnbull does not take"},
	{"competing with itself", "id: a\nmethod: cumulative-incidence\nevent: [remake, died]\ncompeting: [¦died]\n", CodeImpossible, "", "compete with itself"},
	{"competing condition", "id: a\nmethod: cumulative-incidence\ncompeting: ¦{a: b}\n", CodeImpossible, "", "not a condition"},
	{"factor outside", "id: a\nmethod: cox\nadjust: [age, ply]\nfactors: [¦plyy]\n", CodeImpossible, "ply", `did you mean "ply"?`},
	{"reference outside", "id: a\nmethod: cox\nadjust: [age]\nreference: {¦cause: vascular}\n", CodeImpossible, "", "not in `by` or `adjust`"},
	{"interaction outside", "id: a\nmethod: cox\nadjust: [age, side]\ninteract:\n  - [age, side]\n  - [side, ¦agee]\n", CodeImpossible, "age", "did you mean"},
	{"interaction with itself", "id: a\nmethod: cox\nadjust: [age, side]\ninteract: [[¦age, age]]\n", CodeImpossible, "", "with itself"},
	{"interaction twice", "id: a\nmethod: cox\nadjust: [age, side]\n¦interact: [[age, side], [side, age]]\n", CodeImpossible, "", "twice"},
	{"interaction of one", "id: a\nmethod: cox\nadjust: [age, side]\ninteract: [¦[age]]\n", CodeWrongType, "", "a pair of columns"},
	{"interaction in words", "id: a\nmethod: cox\nadjust: [age, side]\ninteract: ¦age and side\n", CodeWrongType, "", "a list of pairs"},
	{"profile outside", "id: a\nmethod: cox\nadjust: [age]\nprofiles:\n  - {age: 5}\n  - {age: 6, ¦agee: 5}\n", CodeImpossible, "age", "the model's columns"},
	{"spline outside", "id: a\nmethod: cox\nadjust: [age]\nspline: {¦agee: 4}\n", CodeImpossible, "age", "did you mean"},
	{"spline in words", "id: a\nmethod: cox\nadjust: [age]\nspline: ¦age\n", CodeWrongType, "", "such as {age: 4}"},
	{"spline of two knots", "id: a\nmethod: cox\nadjust: [age]\nspline: {age: ¦2}\n", CodeBadValue, "", "from 3 to 7"},
	{"spline of a factor", "id: a\nmethod: cox\nadjust: [age]\nfactors: [age]\nspline: {¦age: 4}\n", CodeImpossible, "", "stands in `factors`"},
	{"spline in a product", "id: a\nmethod: linear\nrows: visits\noutcome: ply\nadjust: [age, side]\nspline: {age: 4}\ninteract: [[¦age, side]]\n", CodeImpossible, "", "has a spline"},
	{"spline with a penalty", "id: a\nmethod: cox\nadjust: [age]\npenalty: firth\n¦spline: {age: 4}\n", CodeImpossible, "", "penalised estimates"},
	{"spline where nothing is modelled", km + "¦spline: {age: 4}\n", CodeKeyNotTaken, "", "kaplan-meier does not take `spline`"},
	{"contrast outside", "id: a\nmethod: cox\nadjust: [age]\ncontrasts:\n  - {age: [60, 50]}\n  - {¦sde: [left, right]}\n", CodeImpossible, "", "the model's columns"},
	{"contrast of one value", "id: a\nmethod: cox\nadjust: [age]\ncontrasts: {age: ¦[60]}\n", CodeWrongType, "", "{column: [value, value]}"},
	{"contrast without a pair", "id: a\nmethod: cox\nadjust: [age]\ncontrasts: [¦{age: 60}]\n", CodeWrongType, "", "{column: [value, value]}"},
	{"contrast in words", "id: a\nmethod: cox\nadjust: [age]\ncontrasts: ¦age\n", CodeWrongType, "", "{column: [value, value]}"},
	{"contrast with itself", "id: a\nmethod: cox\nadjust: [age]\ncontrasts: {age: [60, ¦60]}\n", CodeImpossible, "", "with itself"},
	{"contrast of two columns", "id: a\nmethod: cox\nadjust: [age, side]\ncontrasts: {age: [60, 50], ¦side: [left, right]}\n", CodeWrongType, "", "not of age and side at once"},
	{"adjusted of nothing", "id: a\nmethod: cox\nadjust: [age]\n¦adjusted: yes\n", CodeImpossible, "", "categories of `by`, which is not given"},
	{"adjusted where columns vary", "id: a\nmethod: cox\nby: side\nvarying: [ply]\n¦adjusted: yes\n", CodeImpossible, "", "`varying` or `repeats`"},
	{"adjusted with a penalty", "id: a\nmethod: cox\nby: side\npenalty: firth\n¦adjusted: yes\n", CodeImpossible, "", "penalised estimates"},
	{"adjusted in words", "id: a\nmethod: linear\nrows: visits\noutcome: ply\nby: side\nadjusted: ¦please\n", CodeWrongType, "", "true or false"},
	{"diagnostics where columns vary", "id: a\nmethod: cox\nby: side\nvarying: [ply]\n¦diagnostics: yes\n", CodeImpossible, "", "many rows"},
	{"diagnostics with a penalty", "id: a\nmethod: cox\nby: side\npenalty: firth\n¦diagnostics: yes\n", CodeImpossible, "", "penalised estimates"},
	{"p adjusted for nothing", "id: a\nmethod: cox\nadjust: [age]\n¦adjust_p: holm\n", CodeImpossible, "", "`contrasts`, which are not given"},
	{"by again", "id: a\nmethod: cox\nby: level\nadjust: [age, ¦level]\n", CodeImpossible, "", "stands in `by` already"},
	{"stratum and term", "id: a\nmethod: cox\nadjust: [age]\nstrata: ¦age\n", CodeImpossible, "", "a stratum and a term at once"},
	{"outcome as term", "id: a\nmethod: linear\nrows: visits\noutcome: ply\nadjust: [¦ply]\n", CodeImpossible, "", "cannot explain itself"},
	{"discrete ties in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\nties: ¦discrete\n", CodeImpossible, "", "efron or breslow"},
	{"penalty with discrete ties", "id: a\nmethod: cox\nadjust: [age]\nties: discrete\npenalty: ¦firth\n", CodeImpossible, "", "cannot be penalised"},
	{"penalty with profiles", "id: a\nmethod: cox\nadjust: [age]\npenalty: firth\n¦profiles: [{age: 50}]\n", CodeImpossible, "", "penalised estimates"},
	{"penalty misspelt", "id: a\nmethod: cox\nadjust: [age]\npenalty: ¦frith\n", CodeBadValue, "firth", `did you mean "firth"?`},
	{"penalty in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\n¦penalty: firth\n", CodeKeyNotTaken, "", "fine-gray does not take `penalty`; cox, logistic and poisson do"},
	{"ridge with discrete ties", "id: a\nmethod: cox\nadjust: [age]\nties: discrete\npenalty: ¦ridge\n", CodeImpossible, "", "cannot be penalised"},
	{"ridge with a spline", "id: a\nmethod: cox\nadjust: [age]\npenalty: ridge\n¦spline: {age: 4}\n", CodeImpossible, "", "drawn toward no difference"},
	{"ridge with contrasts", "id: a\nmethod: cox\nadjust: [age]\npenalty: ridge\n¦contrasts: {age: [60, 50]}\n", CodeImpossible, "", "leave out `contrasts` or `penalty`"},
	{"split without columns", "id: a\nmethod: cox\nadjust: [age]\nsplit: ¦90d\n", CodeWrongType, "", "such as {cast_method: 180d}"},
	{"split of a column that is no term", "id: a\nmethod: cox\nadjust: [age]\nsplit: {¦level: 90d}\n", CodeImpossible, "", "`by`, `adjust` or `varying`"},
	{"split at times that fall", "id: a\nmethod: cox\nadjust: [age]\nsplit: {age: [90d, ¦60d]}\n", CodeBadValue, "", "ascend"},
	{"split at too many times", "id: a\nmethod: cox\nadjust: [age]\nsplit: {age: [1d, 2d, 3d, 4d, 5d, ¦6d]}\n", CodeBadValue, "", "at most 5"},
	{"split by number without repeats", "id: a\nmethod: cox\nadjust: [age]\nsplit: {age: ¦event_number}\n", CodeImpossible, "", "only with `repeats`"},
	{"split of a curve", "id: a\nmethod: cox\nadjust: [age]\nspline: {age: 4}\nsplit: {¦age: 90d}\n", CodeImpossible, "", "a curve is not split"},
	{"split of a product", "id: a\nmethod: cox\nadjust: [age, level]\ninteract: [[age, level]]\nsplit: {¦age: 90d}\n", CodeImpossible, "", "a product is not split"},
	{"split of what is compared", "id: a\nmethod: cox\nby: level\ncontrasts: [{level: every pair}]\nsplit: {¦level: 90d}\n", CodeImpossible, "", "for each part"},
	{"split and prediction", "id: a\nmethod: cox\nby: level\n¦profiles: [{level: transtibial}]\nsplit: {level: 90d}\n", CodeImpossible, "", "does not go with `split`"},
	{"split and frailty", "id: a\nmethod: cox\nby: level\n¦frailty: gamma\nsplit: {level: 90d}\n", CodeImpossible, "", "does not go with `split`"},
	{"split and ridge", "id: a\nmethod: cox\nby: level\npenalty: ¦ridge\nsplit: {level: 90d}\n", CodeImpossible, "", "toward 1"},
	{"size of no ridge", "id: a\nmethod: cox\nadjust: [age]\n¦penalty_size: 3\n", CodeImpossible, "", "write `penalty: ridge`"},
	{"size of Firth's penalty", "id: a\nmethod: cox\nadjust: [age]\npenalty: firth\n¦penalty_size: 3\n", CodeImpossible, "", "a ridge penalty"},
	{"ridge of size 0", "id: a\nmethod: cox\nadjust: [age]\npenalty: ridge\npenalty_size: ¦0\n", CodeBadValue, "", "above 0"},
	{"ridge of a size in words", "id: a\nmethod: cox\nadjust: [age]\npenalty: ridge\npenalty_size: ¦small\n", CodeWrongType, "", "takes a number"},
	{"ridge in logistic", "id: a\nmethod: logistic\nrows: sockets\noutcome: first_fit\nadjust: [age]\npenalty: ¦ridge\n", CodeImpossible, "", "cox alone takes a ridge"},
	{"frailty misspelt", "id: a\nmethod: cox\nadjust: [age]\nfrailty: ¦gama\n", CodeBadValue, "gamma", `did you mean "gamma"?`},
	{"shared without a frailty", "id: a\nmethod: cox\nadjust: [age]\n¦shared_by: site\n", CodeImpossible, "", "write `frailty: gamma`"},
	{"frailty with clusters", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\n¦cluster: person\n", CodeImpossible, "", "leave out `cluster`"},
	{"frailty with a penalty", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\n¦penalty: firth\n", CodeImpossible, "", "a penalty of its own"},
	{"frailty with weights", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\n¦weights: n\n", CodeImpossible, "", "no agreed answer"},
	{"frailty with profiles", "id: a\nmethod: cox\nadjust: [age]\nfrailty: log-normal\n¦profiles: [{age: 5}]\n", CodeImpossible, "", "depend on the person"},
	{"frailty with adjusted shares", "id: a\nmethod: cox\nby: side\nfrailty: gamma\n¦adjusted: yes\n", CodeImpossible, "", "depend on the person"},
	{"frailty with diagnostics", "id: a\nmethod: cox\nby: side\nfrailty: gamma\nshared_by: site\n¦diagnostics: yes\n", CodeImpossible, "", "depend on the site"},
	{"frailty with discrete ties", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\nties: ¦discrete\n", CodeImpossible, "", "use efron or breslow"},
	{"frailty in the marginal model", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\nrepeats: ¦marginal\nstrata: [event_number]\n", CodeImpossible, "", "use gap-time or total-time"},
	{"frailty of a stratum", "id: a\nmethod: cox\nadjust: [age]\nfrailty: gamma\nstrata: [site]\nshared_by: ¦site\n", CodeImpossible, "", "compared with itself alone"},
	{"frailty of a term", "id: a\nmethod: cox\nadjust: [age, site]\nfrailty: gamma\nshared_by: ¦site\n", CodeImpossible, "", "is a term of the model"},
	{"frailty in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\n¦frailty: gamma\n", CodeKeyNotTaken, "", "fine-gray does not take `frailty`; cox does"},
	{"varying as by", "id: a\nmethod: cox\nby: ply\nvarying: [¦ply]\n", CodeImpossible, "", "stands in `by` already"},
	{"varying as adjust", "id: a\nmethod: cox\nadjust: [age, ply]\nvarying: [comfort, ¦ply]\n", CodeImpossible, "", "stands in `adjust` already"},
	{"varying with profiles", "id: a\nmethod: cox\nvarying: [ply]\n¦profiles: [{ply: 5}]\n", CodeImpossible, "", "not known beforehand"},
	{"varying in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\n¦varying: [ply]\n", CodeKeyNotTaken, "", "fine-gray does not take `varying`; cox and watch do"},
	{"repeats misspelt", "id: a\nmethod: cox\nadjust: [age]\nrepeats: ¦gap time\n", CodeBadValue, "gap-time", "gap-time"},
	{"repeats with a landmark", "id: a\nmethod: cox\nadjust: [age]\nrepeats: gap-time\n¦landmark: 90d\n", CodeImpossible, "", "does not go with `repeats`"},
	{"repeats with profiles", "id: a\nmethod: cox\nadjust: [age]\nrepeats: gap-time\n¦profiles: [{age: 5}]\n", CodeImpossible, "", "mean-cumulative"},
	{"repeats with discrete ties", "id: a\nmethod: cox\nadjust: [age]\nrepeats: gap-time\nties: ¦discrete\n", CodeImpossible, "", "several events of one person"},
	{"repeats taken as exact", "id: a\nmethod: cox\nadjust: [age]\nrepeats: gap-time\nevent: {ply: 10..}\n¦seen_as_exact: true\n", CodeImpossible, "", "leave out `seen_as_exact`"},
	{"repeats of the end of a socket", "id: a\nmethod: cox\nadjust: [age]\nrepeats: gap-time\nrows: ¦sockets\n", CodeImpossible, "", "comes once"},
	{"marginal without strata", "id: a\nmethod: cox\nadjust: [age]\nrepeats: ¦marginal\n", CodeMissingKey, "", "strata: [event_number]"},
	{"number of the event without repeats", "id: a\nmethod: cox\nadjust: [age]\nstrata: [¦event_number]\n", CodeImpossible, "", "only with `repeats`"},
	{"weights in a list", "id: a\nmethod: cox\nadjust: [age]\nweights: ¦[n]\n", CodeWrongType, "", "a single value"},
	{"times without profiles in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\n¦times: [1y]\n", CodeImpossible, "", "fine-gray uses `times` to predict"},
	{"condition as event of fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\nevent: ¦{ply: 10..}\n", CodeImpossible, "", "not a condition"},
	{"strata in fine-gray", "id: a\nmethod: fine-gray\nadjust: [age]\n¦strata: [level]\n", CodeKeyNotTaken, "", "fine-gray does not take `strata`; cox, cumulative-sum, funnel and kaplan-meier do"},
	{"times without profiles", "id: a\nmethod: cox\nadjust: [age]\n¦times: [1y]\n", CodeImpossible, "", "profiles"},
	{"scale without time", "id: a\nmethod: mixed\nrows: visits\noutcome: ply\nadjust: [age]\n¦scale: months\n", CodeImpossible, "", "`time`"},
	{"slope outside", "id: a\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nslopes: [¦days_since_deliver]\n", CodeImpossible, "days_since_delivery", "did you mean"},
	{"p chart of an outcome", chart + "chart: p\nnumerator: {a: b}\n¦outcome: ply\n", CodeImpossible, "", "xmr chart"},
	{"p chart of all", chart + "chart: p\nnumerator: ¦count\n", CodeImpossible, "", "100%"},
	{"xmr of two", chart + "chart: xmr\noutcome: ply\n¦numerator: count\n", CodeImpossible, "", "not of both"},
	{"xmr over", chart + "chart: xmr\nnumerator: count\n¦denominator: count\n", CodeImpossible, "", "for a p, u or g chart"},
	{"c chart over", chart + "chart: c\nnumerator: count\n¦exposure: minutes\n", CodeImpossible, "", "for a u chart"},
	{"cases that are counted", chart + "numerator: {a: b}\nperiod: ¦case\n", CodeImpossible, "", "chart: g"},
	{"segmented by case", "id: s\nmethod: segmented\nrows: visits\noutcome: ply\nperiod: ¦case\n", CodeImpossible, "", "by month, quarter or year"},
	{"separator of letters", "id: f\nmethod: pareto\nrows: visits\nby: action\nseparator: ¦and\n", CodeBadValue, "", "the mark between"},
	{"pooled above a half", "id: f\nmethod: pareto\nrows: visits\nby: action\npool_below: ¦5\n", CodeBadValue, "", "such as 5%"},
	{"sum of all", "id: f\nmethod: cumulative-sum\nrows: visits\nnumerator: ¦count\n", CodeImpossible, "", "nothing to follow"},
	{"sum of a stated chance and strata", "id: f\nmethod: cumulative-sum\nrows: visits\nnumerator: {a: b}\nexpected: 8%\n¦strata: sex\n", CodeImpossible, "", "not learnt"},
	{"sum by strata and a model", "id: f\nmethod: cumulative-sum\nrows: visits\nnumerator: {a: b}\nstrata: sex\n¦adjust: [age]\n", CodeImpossible, "", "not from both"},
	{"chance above 1", "id: f\nmethod: cumulative-sum\nrows: visits\nnumerator: {a: b}\nexpected: ¦8\n", CodeBadValue, "", "such as 8%"},
	{"odds of one", "id: f\nmethod: cumulative-sum\nrows: visits\nnumerator: {a: b}\nodds_ratio: ¦1\n", CodeBadValue, "", "above 1"},
	{"funnel of all", "id: f\nmethod: funnel\nrows: visits\nby: site\nnumerator: ¦count\n", CodeImpossible, "", "always 100%"},
	{"funnel by strata and a model", "id: f\nmethod: funnel\nrows: visits\nby: site\nnumerator: {a: b}\nstrata: sex\n¦adjust: [age]\n", CodeImpossible, "", "not from both"},
	{"funnel of rates by a model", "id: f\nmethod: funnel\nrows: visits\nby: site\nnumerator: {a: b}\nexposure: socket-months\n¦adjust: [age]\n", CodeImpossible, "", "by `strata`"},
	{"funnel over a column", "id: f\nmethod: funnel\nrows: visits\nby: site\nnumerator: {a: b}\nexposure: ¦minutes\n", CodeBadValue, "", "socket-months or checked-visits"},
	{"reference without a model", "id: f\nmethod: funnel\nrows: visits\nby: site\nnumerator: {a: b}\n¦reference: {sex: male}\n", CodeImpossible, "", "which are not given"},
	{"segmented of two", "id: s\nmethod: segmented\nrows: visits\noutcome: ply\n¦numerator: {a: b}\n", CodeImpossible, "", "not of both"},
	{"segmented mean among", "id: s\nmethod: segmented\nrows: visits\noutcome: ply\n¦denominator: {a: b}\n", CodeImpossible, "", "use keep"},
	{"segmented count among", "id: s\nmethod: segmented\nrows: visits\nnumerator: count\n¦denominator: {a: b}\n", CodeImpossible, "", "a condition"},
	{"season of years", "id: s\nmethod: segmented\nrows: visits\noutcome: ply\nperiod: year\n¦seasonal: yes\n", CodeImpossible, "", "no season"},
	{"linear by autoregression", "id: s\nmethod: linear\nrows: visits\noutcome: ply\nby: level\nerrors: ¦autoregressive\n", CodeImpossible, "", "segmented"},
	{"linear by two", "id: s\nmethod: linear\nrows: visits\noutcome: ply\nby: level\nerrors: newey-west\n¦cluster: limb\n", CodeImpossible, "", "not for both"},
	{"linear dated for nothing", "id: s\nmethod: linear\nrows: visits\noutcome: ply\nby: level\n¦dated: delivered\n", CodeImpossible, "", "newey-west"},
	{"forecast by case", "id: s\nmethod: forecast\nrows: visits\nperiod: ¦case\n", CodeImpossible, "", "by month, quarter or year"},
	{"season of a forecast by year", "id: s\nmethod: forecast\nrows: visits\nperiod: year\n¦seasonal: yes\n", CodeImpossible, "", "no season"},
	{"change that is no day", "id: s\nmethod: segmented\nrows: visits\noutcome: ply\nchange: ¦spring\n", CodeBadDate, "", "2024-01-31"},
	{"g chart of all", chart + "chart: g\nnumerator: ¦count\n", CodeImpossible, "", "no cases between"},
	{"g chart by month", chart + "chart: g\nnumerator: {a: b}\n¦period: month\n", CodeImpossible, "", "takes no `period`"},
	{"days between among rows", chart + "chart: g\nbetween: days\nnumerator: {a: b}\n¦denominator: {c: d}\n", CodeImpossible, "", "use keep"},
	{"cases between of a t chart", chart + "chart: t\nnumerator: {a: b}\n¦between: cases\n", CodeImpossible, "", "for a g chart"},
	{"t chart among", chart + "chart: t\nnumerator: {a: b}\n¦denominator: {c: d}\n", CodeImpossible, "", "for a p, u or g chart"},
	{"overdispersed c chart", chart + "chart: c\nnumerator: count\n¦overdispersed: yes\n", CodeImpossible, "", "limits of a c chart"},
	{"overdispersed means", chart + "outcome: ply\n¦overdispersed: no\n", CodeImpossible, "", "their own spread"},
	{"u chart of all among all", chart + "chart: u\nnumerator: ¦count\n", CodeImpossible, "", "always 1"},
	{"unnamed chart of all among", chart + "numerator: count\n¦denominator: {a: b}\n", CodeImpossible, "", "chart: u"},
	{"unnamed chart of two", chart + "outcome: ply\n¦numerator: {a: b}\n", CodeImpossible, "", "not of both"},
	{"goal of shares", chart + "numerator: {a: b}\n¦goal: 75\n", CodeBadValue, "", "0% and 100%"},
	{"late entry of a number", chart + "outcome: ply\nlate_entry: ¦30\n", CodeBadDuration, "30d", "did you mean"},

	// YAML.
	{"tab", km + "keep:\n¦\tlevel: x\n", CodeTab, "", "a tab"},
	{"tab after spaces", km + "keep:\n  ¦\tlevel: x\n", CodeTab, "", "a tab"},
	{"test of no groups", km + "¦tests: [log-rank]\n", CodeImpossible, "", "compares groups, and needs `by`"},
	{"strata of no groups", km + "¦strata: [side]\n", CodeImpossible, "", "compares groups, and needs `by`"},
	{"trend of no groups", km + "¦trend: true\n", CodeImpossible, "", "compares groups, and needs `by`"},
	{"test that there is not", km + "by: level\ntests: [log-rank, ¦peto]\n", CodeBadValue, "peto-peto", "did you mean"},
	{"trend of one group", km + "by: level\ntrend: ¦[high]\n", CodeBadValue, "", "at least two groups"},
	{"no trend", km + "by: level\ntrend: ¦false\n", CodeBadValue, "", "leave it out"},
	{"bandwidth without a unit", km + "hazard: ¦90\n", CodeBadDuration, "90d", "90d"},
	{"groups as strata", km + "by: level\nstrata: [¦level]\n", CodeImpossible, "", "at once"},
	{"no-break space in front", km + "keep:\n¦\u00a0\u00a0level: x\n", CodeTab, "", "no-break"},
	{"no-break space after the colon", km + "by:¦\u00a0level\n", CodeTab, "", "no-break"},
	{"second colon", km + "question: Why¦: what\n", CodeBadYAML, "", "second"},
	{"second colon after letters beyond ASCII", multi + "by: Größe¦: x\n", CodeBadYAML, "", "second"},
	{"second colon in braces", km + "keep: {level: any¦: x}\n", CodeBadYAML, "", "second"},
	{"indented too far", km + "by: level\n  rows¦: sockets\n", CodeBadYAML, "", "second"},
	{"open quote", km + "by: ¦'level\n", CodeBadYAML, "", "never closed"},
	{"open bracket", "id: a\nmethod: cox\nadjust: [age, side\n¦by: level\n", CodeBadYAML, "", "bad YAML"},
	{"reserved character", km + "by: ¦@level\n", CodeBadYAML, "", "in quotes"},
	{"percent sign", km + "by: ¦%level\n", CodeBadYAML, "", "in quotes"},
	{"star", km + "by: ¦*level\n", CodeBadYAML, "", "in quotes"},
	{"ampersand", km + "by: ¦&level x\n", CodeBadYAML, "", "in quotes"},
	{"exclamation mark", km + "by: ¦!level x\n", CodeBadYAML, "", "in quotes"},
	{"backslash", km + "by: \"a¦\\q\"\n", CodeBadYAML, "", "backslash"},
	{"watch for half a day", "id: a\nmethod: watch\nvarying: [ply]\nahead: ¦0.5d\n", CodeBadValue, "", "a day or more"},
	{"watch every hour", "id: a\nmethod: watch\nvarying: [ply]\nahead: 90d\nevery: ¦0.04d\n", CodeBadValue, "", "a day or more"},
	{"watch for a finding", "id: a\nmethod: watch\nvarying: [ply]\nahead: 90d\nevent: ¦{finding: ulcer}\n", CodeImpossible, "", "not a condition"},
	{"watch by few samples", "id: a\nmethod: watch\nvarying: [ply]\nahead: 90d\nresamples: ¦10\n", CodeBadValue, "", ""},
	{"samples of nothing filled in", "id: a\nmethod: cox\nby: level\n¦imputations: 30\n", CodeImpossible, "", "write `missing: impute`"},
	{"a seed of nothing filled in", "id: a\nmethod: linear\nrows: visits\noutcome: ply\nby: level\nmissing: complete\n¦seed: 3\n", CodeImpossible, "", "write `missing: impute`"},
	{"a curve of values filled in", "id: a\nmethod: cox\nadjust: [age]\nmissing: impute\n¦spline: {age: 3}\n", CodeImpossible, "", "would differ from table to table"},
	{"what varies filled in", "id: a\nmethod: cox\nmissing: impute\n¦varying: [ply]\n", CodeImpossible, "", "is not filled in"},
	{"discrete times filled in", "id: a\nmethod: cox\nadjust: [age]\nmissing: impute\nties: ¦discrete\n", CodeImpossible, "", "use efron or breslow"},
	{"few tables", "id: a\nmethod: cox\nadjust: [age]\nmissing: impute\nimputations: ¦2\n", CodeBadValue, "", ""},
	{"merge key", km + "¦<<: {by: level}\n", CodeBadYAML, "", "not used"},
	{"question mark key", km + "¦? by\n: level\n", CodeBadYAML, "", ""},
	{"a list", "¦- id: a\n- method: flow\n", CodeBadYAML, "", "not a list"},
	{"a word", "¦longevity\n", CodeBadYAML, "", "not a single value"},
	{"two documents", "id: a\nmethod: flow\n¦---\nby: x\n", CodeBadYAML, "", ""},
	{"list without brackets", km + "event: ¦remake, died\n", CodeWrongType, "[remake, died]", "brackets"},
	{"keep on no line", km + "¦keep:\nby: x\n", CodeWrongType, "", "has no value"},
	{"greater than", km + "keep:\n  ply: ¦>= 5\n", CodeBadYAML, "", "5.."},
	{"greater than in braces", km + "keep: {ply: ¦> 5}\n", CodeBadYAML, "", "5.."},
	{"no colon", km + "¦by level\n", CodeBadYAML, "", "with a space behind the colon"},
	{"no space", km + "¦by:level\n", CodeBadYAML, "", "with a space behind the colon"},
	{"open brace", km + "keep: ¦{kind: check\n", CodeBadYAML, "", "never closed"},
	{"text behind quotes", km + "question: \"Why\" ¦now\n", CodeBadYAML, "", "put the whole value in quotes"},
	{"empty place in braces", km + "keep: {a: b, ¦, c: d}\n", CodeBadYAML, "", "between two commas"},
	{"a dash behind the key", km + "note: ¦- a\n", CodeBadYAML, "", "in brackets"},
}

func TestFaultPlaces(t *testing.T) {
	for _, f := range faults {
		for _, s := range settings {
			t.Run(f.name+"/"+s.name, func(t *testing.T) {
				src, want := unmark(t, s.wrap(f.body))
				if s.name == "CR alone" {
					src = strings.ReplaceAll(src, "\n", "\r")
				}
				nb, err := Parse("lab.md", []byte(src))
				if err != nil {
					t.Fatalf("Parse: %v", err)
				}
				asks := nb.Asks()
				a := asks[len(asks)-1]
				if a.Err == nil {
					t.Fatalf("no fault in\n%s", src)
				}
				if a.Err.Pos.String() != want || a.Err.Code != f.code || a.Err.Nearest != f.near || !strings.Contains(a.Err.Text, f.text) {
					t.Errorf("got %s [%s] nearest %q\nwant %s: ...%s... [%s] nearest %q\nin\n%s", a.Err, a.Err.Code, a.Err.Nearest, want, f.text, f.code, f.near, src)
				}
			})
		}
	}
}

// Faults whose place is the fence of the ask.
func TestFaultsOfTheWholeAsk(t *testing.T) {
	for _, f := range []struct{ name, body, code, text string }{
		{"empty", "", CodeMissingKey, "empty"},
		{"comment only", "# nothing yet\n", CodeMissingKey, "empty"},
		{"no id", "method: flow\n", CodeMissingKey, "no `id`"},
		{"no method", "id: a\n", CodeMissingKey, "no `method`"},
		{"linear without outcome", "id: a\nmethod: linear\nrows: visits\nadjust: [x]\n", CodeMissingKey, "linear needs `outcome`"},
		{"linear without terms", "id: a\nmethod: linear\nrows: visits\noutcome: ply\n", CodeMissingKey, "`by` or `adjust`"},
		{"cox without terms", "id: a\nmethod: cox\n", CodeMissingKey, "`by` or `adjust`"},
		{"watch without terms", "id: a\nmethod: watch\nahead: 90d\n", CodeMissingKey, "watch needs `adjust` or `varying`"},
		{"watch of no time", "id: a\nmethod: watch\nvarying: [ply]\n", CodeMissingKey, "watch needs `ahead`"},
		{"fine-gray without terms", "id: a\nmethod: fine-gray\n", CodeMissingKey, "fine-gray needs `by` or `adjust`"},
		{"mixed without terms", "id: a\nmethod: mixed\nrows: visits\noutcome: ply\n", CodeMissingKey, "`time`, `by` or `adjust`"},
		{"pareto without bars", "id: a\nmethod: pareto\nrows: findings\n", CodeMissingKey, "pareto needs `by`"},
		{"turnbull of nothing", "id: a\nmethod: turnbull\n", CodeMissingKey, "turnbull needs `event`"},
		{"summary of nothing", "id: a\nmethod: summary\n", CodeMissingKey, "summary needs `columns`"},
		{"chart of no rows", "id: a\nmethod: control-chart\noutcome: ply\n", CodeMissingKey, "control-chart needs `rows`"},
		{"p chart of nothing", chart + "chart: p\n", CodeMissingKey, "needs `numerator`"},
		{"xmr chart of nothing", chart + "chart: xmr\n", CodeMissingKey, "needs `outcome`"},
		{"sum of nothing", "id: f\nmethod: cumulative-sum\nrows: visits\n", CodeMissingKey, "cumulative-sum needs `numerator`"},
		{"funnel of nothing", "id: f\nmethod: funnel\nrows: visits\nby: site\n", CodeMissingKey, "funnel needs `numerator`"},
		{"segmented of nothing", "id: s\nmethod: segmented\nrows: visits\n", CodeMissingKey, "segmented needs `numerator`"},
		{"chart of nothing", chart, CodeMissingKey, "needs `numerator`, what is counted"},
		{"u chart of nothing", chart + "chart: u\n", CodeMissingKey, "a column of counts"},
		{"g chart of nothing", chart + "chart: g\n", CodeMissingKey, "needs `numerator`: the condition that makes a row an event"},
	} {
		t.Run(f.name, func(t *testing.T) {
			src, want := unmark(t, "---\ntitle: T\n---\n- a\n\n  "+mark+"```ask\n"+indent(f.body, "  ")+"  ```\n")
			nb, err := Parse("lab.md", []byte(src))
			if err != nil {
				t.Fatal(err)
			}
			e := nb.Asks()[0].Err
			if e == nil {
				t.Fatal("no fault")
			}
			if e.Pos.String() != want || e.Code != f.code || !strings.Contains(e.Text, f.text) {
				t.Errorf("got %s [%s], want %s [%s] %s", e, e.Code, want, f.code, f.text)
			}
		})
	}
}

// Fences that are not what they seem.
func TestFenceFaults(t *testing.T) {
	head := "---\ntitle: T\n---\n"
	for _, f := range []struct {
		name, src, code string
		asks            int // all asks, the faulty one first
	}{
		{"never closed", head + "¦```ask\nid: a\nmethod: flow\n\nText after.\n", CodeUnterminated, 1},
		{"never closed before another", head + "¦```ask\nid: a\nmethod: flow\n\nText.\n\n```ask\nid: b\nmethod: flow\n```\n", CodeUnterminated, 2},
		{"never closed before ordinary code", head + "¦```ask\nid: a\nmethod: flow\n\n```text\nx\n```\n\n```ask\nid: b\nmethod: flow\n```\n", CodeUnterminated, 2},
		{"closed by the wrong mark", head + "¦```ask\nid: a\nmethod: flow\n~~~\n", CodeUnterminated, 1},
		{"closed too short", head + "¦````ask\nid: a\nmethod: flow\n```\n", CodeUnterminated, 1},
		{"words after ask", head + "¦```ask longevity\nid: a\nmethod: flow\n```\n", CodeBadYAML, 1},
	} {
		t.Run(f.name, func(t *testing.T) {
			src, want := unmark(t, f.src)
			nb, err := Parse("lab.md", []byte(src))
			if err != nil {
				t.Fatal(err)
			}
			asks := nb.Asks()
			if len(asks) != f.asks {
				t.Fatalf("%d asks, want %d", len(asks), f.asks)
			}
			if e := asks[0].Err; e == nil || e.Pos.String() != want || e.Code != f.code {
				t.Errorf("got %v, want %s %s", e, want, f.code)
			}
			if asks[0].ID != "a" {
				t.Errorf("the id of the lost ask is %q", asks[0].ID)
			}
			for _, a := range asks[1:] {
				if a.Err != nil || a.ID != "b" {
					t.Errorf("the other ask: %q %v", a.ID, a.Err)
				}
			}
		})
	}
}

func TestFrontFaults(t *testing.T) {
	for _, f := range []struct{ name, src, code, near, text string }{
		{"empty file", "¦", CodeNoFront, "", "begins with front matter"},
		{"no front matter", "\n¦# Title\n", CodeNoFront, "", "begins with front matter"},
		{"only an ask", "¦```ask\nid: a\n```\n", CodeNoFront, "", "begins with front matter"},
		{"never closed", "¦---\ntitle: T\n\nText\n", CodeUnterminated, "", "never closed"},
		{"unknown key", "---\ntitle: T\n¦audiense: annual\n---\n", CodeUnknownKey, "audience", "audience"},
		{"unknown key of no likeness", "---\n¦zzzzzz: annual\n---\n", CodeUnknownKey, "", "title, subtitle"},
		{"unknown key after several lines", "---\ntitle: |\n  a\n  b\nlog: [a,\n  b]\n¦form: 2024-01-01\n---\n", CodeUnknownKey, "from", "from"},
		{"duplicate key", "---\ntitle: T\n¦title: U\n---\n", CodeDuplicateKey, "", "line 2"},
		{"audience", "---\naudience: ¦anual\n---\n", CodeBadValue, "annual", "annual"},
		{"numbers", "---\nnumbers: ¦commas\n---\n", CodeBadValue, "comma", "comma"},
		{"dates", "---\ndates: ¦dayfirst\n---\n", CodeBadValue, "day-first", "day-first"},
		{"print", "---\nprint: ¦shrt\n---\n", CodeBadValue, "short", "`print` cannot be \"shrt\""},
		{"print of nothing known", "---\nprint: ¦poster\n---\n", CodeBadValue, "", "short"},
		{"print of nothing", "---\n¦print:\n---\n", CodeWrongType, "", "no value"},
		{"paper", "---\npaper: ¦A4\n---\n", CodeBadValue, "a4", "a4"},
		{"year from no month", "---\nyear_begins: ¦jully\n---\n", CodeBadValue, "july", "july"},
		{"date", "---\nfrom: ¦01/02/2024\n---\n", CodeBadDate, "", "2024-01-31"},
		{"date that is none", "---\nto: ¦2024-02-30\n---\n", CodeBadDate, "", "2024-02-30"},
		{"dates backwards", "---\n¦from: 2025-01-01\nto: 2024-01-01\n---\n", CodeImpossible, "", "later than"},
		{"log after the end", "---\nto: 2024-01-01\n¦log_since: 2025-01-01\n---\n", CodeImpossible, "", "later than"},
		{"shifted from a day", "---\nshift_dates: 180d\n¦from: 2025-01-01\n---\n", CodeImpossible, "", "leave one of the two out"},
		{"shifted to a day", "---\n¦to: 2025-01-01\nshift_dates: 180d\n---\n", CodeImpossible, "", "leave one of the two out"},
		{"shifted since a day", "---\nshift_dates: 180d\n¦log_since: 2025-01-01\n---\n", CodeImpossible, "", "leave one of the two out"},
		{"shifted by a day", "---\nshift_dates: ¦1d\n---\n", CodeBadValue, "", "from 14d to 3650d"},
		{"shifted by a lifetime", "---\nshift_dates: ¦50y\n---\n", CodeBadValue, "", "from 14d to 3650d"},
		{"shifted by a number", "---\nshift_dates: ¦180\n---\n", CodeBadDuration, "180d", "180d"},
		{"hide below", "---\nhide_below: ¦-1\n---\n", CodeBadValue, "", "from 0 to 1000"},
		{"hide below in words", "---\nhide_below: ¦ten\n---\n", CodeWrongType, "", "number"},
		{"early remake", "---\nearly_remake: ¦90\n---\n", CodeBadDuration, "90d", "90d"},
		{"language", "---\nlanguage: ¦English please\n---\n", CodeBadValue, "", "en-GB"},
		{"log is a map", "---\nlog: ¦{a: b}\n---\n", CodeWrongType, "", "list"},
		{"star", "---\nlog: ¦*.xlsx\n---\n", CodeBadYAML, "", "in quotes"},
		{"tab", "---\nlog:\n¦\t- a.xlsx\n---\n", CodeTab, "", "tab"},
		{"colon", "---\ntitle: Fit review¦: third quarter\n---\n", CodeBadYAML, "", "second"},
		{"not UTF-8", "---\ntitle: T\n---\nGr¦\xf6\xdfe\n", CodeNotUTF8, "", "UTF-8"},
		{"items of nothing", "---\nitem_map: [¦stroeb]\n---\n", CodeBadValue, "strobe", "strobe"},
		{"items twice", "---\nitem_map: [record, ¦record]\n---\n", CodeBadValue, "", "twice"},
		{"in short of nothing", "---\nin_short: [¦frst]\n---\n\n```ask\nid: first\nmethod: flow\n```\n", CodeBadValue, "first", "first"},
		{"in short twice", "---\nin_short: [first, ¦first]\n---\n\n```ask\nid: first\nmethod: flow\n```\n", CodeBadValue, "", "twice"},
		{"binary", "---\ntitle: T\n---\na¦\x00\n", CodeNotUTF8, "", "not a text file"},
	} {
		t.Run(f.name, func(t *testing.T) {
			src, want := unmark(t, f.src)
			nb, err := Parse("lab.md", []byte(src))
			if err == nil || nb != nil {
				t.Fatal("no error")
			}
			var e *Error
			var all Errors
			if !errors.As(err, &e) || !errors.As(err, &all) || len(all) == 0 {
				t.Fatalf("%T", err)
			}
			if e.Pos.String() != want || e.Code != f.code || e.Nearest != f.near || !strings.Contains(e.Text, f.text) {
				t.Errorf("got %s [%s] nearest %q, want %s [%s] nearest %q", e, e.Code, e.Nearest, want, f.code, f.near)
			}
		})
	}
	_, err := Parse("lab.md", []byte("---\nfoo: 1\nto: x\naudience: y\n---\n"))
	var all Errors
	if !errors.As(err, &all) || len(all) != 3 || strings.Count(err.Error(), "\n") != 2 || !strings.HasPrefix(err.Error(), "lab.md:2:1: ") {
		t.Errorf("all faults of the front matter at once: %v", err)
	}
}

func TestDecisionFaults(t *testing.T) {
	asks := "---\ntitle: T\n---\n```ask\nid: first-fit\nmethod: control-chart\nrows: sockets\nnumerator: {first_fit: no}\n```\n```ask\nid: longevity\nmethod: kaplan-meier\n```\n"
	for _, f := range []struct{ name, body, code, near, text string }{
		{"follows nothing", "on: 2026-03-02\nwhat: x\nfollows: ¦first-fits\n", CodeUnknownID, "first-fit", `did you mean "first-fit"?`},
		{"follows nothing like", "on: 2026-03-02\nwhat: x\nfollows: ¦zzzzz\n", CodeUnknownID, "", "the ids are first-fit and longevity"},
		{"unknown key", "on: 2026-03-02\nwhat: >\n  x\n  y\n¦follow: first-fit\n", CodeUnknownKey, "follows", "follows"},
		{"duplicate key", "on: 2026-03-02\nwhat: x\n¦what: y\n", CodeDuplicateKey, "", "line"},
		{"date", "on: ¦March 2026\nwhat: x\n", CodeBadDate, "", "2024-01-31"},
		{"review too early", "on: 2026-03-02\nwhat: x\n¦review: 2025-03-02\n", CodeImpossible, "", "before"},
		{"phase of nothing", "on: 2026-03-02\nwhat: x\n¦new_phase: true\n", CodeImpossible, "", "`follows`"},
		{"phase of a curve", "on: 2026-03-02\nwhat: x\nfollows: longevity\n¦new_phase: yes\n", CodeImpossible, "", "only a control-chart has phases"},
		{"phase in words", "on: 2026-03-02\nwhat: x\nnew_phase: ¦perhaps\n", CodeWrongType, "", "true or false"},
		{"tab", "on: 2026-03-02\n¦\twhat: x\n", CodeTab, "", "tab"},
	} {
		t.Run(f.name, func(t *testing.T) {
			src, want := unmark(t, asks+"  ```decision\n"+indent(f.body, "  ")+"  ```\n")
			nb, err := Parse("lab.md", []byte(src))
			if err != nil {
				t.Fatal(err)
			}
			e := nb.Decisions()[0].Err
			if e == nil {
				t.Fatal("no fault")
			}
			if e.Pos.String() != want || e.Code != f.code || e.Nearest != f.near || !strings.Contains(e.Text, f.text) {
				t.Errorf("got %s [%s] nearest %q, want %s [%s] nearest %q", e, e.Code, e.Nearest, want, f.code, f.near)
			}
			for _, a := range nb.Asks() {
				if a.Err != nil {
					t.Errorf("the ask %s: %v", a.ID, a.Err)
				}
			}
		})
	}
	nb, err := Parse("lab.md", []byte("---\n---\n```decision\n```\n\n```decision\nwhat: x\n"))
	if err != nil {
		t.Fatal(err)
	}
	d := nb.Decisions()
	if d[0].Err == nil || d[0].Err.Pos.String() != "lab.md:3:1" || len(d[0].More) != 1 || d[1].Err == nil || d[1].Err.Code != CodeUnterminated {
		t.Errorf("%v, %v", d[0].Err, d[1].Err)
	}
}
