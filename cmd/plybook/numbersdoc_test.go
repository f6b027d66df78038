package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// tablesOf reads the listing of tables: method and table to columns. A column
// in brackets may be left out.
func tablesOf(t *testing.T) map[[2]string][]string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "reports", "numbers.md"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[[2]string][]string{}
	for _, line := range strings.Split(string(b), "\n") {
		c := strings.Split(line, "|")
		if len(c) != 5 || strings.Contains(line, "---") || strings.TrimSpace(c[1]) == "method" {
			continue
		}
		var cols []string
		for _, x := range strings.Split(c[3], ",") {
			cols = append(cols, strings.TrimSpace(x))
		}
		out[[2]string{strings.TrimSpace(c[1]), strings.TrimSpace(c[2])}] = cols
	}
	return out
}

// keysInOrder are the names of a JSON object's members as written.
func keysInOrder(t *testing.T, raw json.RawMessage) []string {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(string(raw)))
	var out []string
	depth, key := 0, false
	for {
		tok, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		if r, ok := tok.(json.Delim); ok {
			if r == '{' {
				depth, key = depth+1, true
				continue
			}
			if r == '}' {
				return out
			}
			t.Fatalf("a nested value in a row: %s", raw)
		}
		if key {
			out = append(out, tok.(string))
		}
		key = !key
	}
}

// Every table that a run writes is listed in reports/numbers.md with its
// columns, and every table listed is written.
func TestTablesAreListed(t *testing.T) {
	t.Parallel()
	listed := tablesOf(t)
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	// The example asks for no predicted means and shows single limbs nowhere.
	more := "---\ntitle: Further\nlog: [log/*.xlsx]\nlog_since: 2023-07-01\n---\n" +
		"```ask\nid: share\nmethod: fine-gray\nby: cast_method\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{cast_method: hand}]\n```\n\n" +
		"```ask\nid: a\nmethod: linear\nrows: visits\noutcome: comfort\nby: cast_method\nadjusted: yes\ndiagnostics: yes\nadjust: [ply, age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{ply: 3}]\n```\n\n" +
		"```ask\nid: b\nmethod: mixed\nrows: visits\noutcome: comfort\ntest_random: yes\nadjust: [ply, age, level]\nfreedom: kenward-roger\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{ply: 3}]\n```\n\n" +
		"```ask\nid: lo\nmethod: logistic\nrows: visits\noutcome: {comfort: 7..}\nby: cast_method\ndiagnostics: yes\nadjust: [level, age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: or\nmethod: ordinal\nrows: visits\noutcome: comfort\nkeep: {comfort: 5..8}\nby: cast_method\nadjust: [level, age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: ml\nmethod: mixed-logistic\nrows: visits\noutcome: {comfort: 7..}\nby: cast_method\nadjust: [level, age]\ntime: days_since_delivery\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: mo\nmethod: mixed-ordinal\nrows: visits\noutcome: comfort\nkeep: {comfort: 5..8}\nby: cast_method\nadjust: [level, age]\ntime: days_since_delivery\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: mp\nmethod: mixed-poisson\nrows: visits\noutcome: socks\nby: cast_method\nadjust: [level, age]\ntime: days_since_delivery\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: po\nmethod: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: side\ndiagnostics: yes\nadjust: [cause, age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: nb\nmethod: negative-binomial\nrows: limbs\nevent: {purpose: walk-in}\nby: side\ndiagnostics: yes\nadjust: [cause, age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\nprofiles: [{age: 50}]\n```\n\n" +
		"```ask\nid: mc\nmethod: mean-cumulative\nby: side\ntimes: [1y]\n```\n\n" +
		"```ask\nid: tb\nmethod: turnbull\nevent: {ply: 8..}\ntimes: [1y]\n```\n\n" +
		"```ask\nid: w\nmethod: weibull\nby: cast_method\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\ncompare: [log-normal, weibull]\n```\n\n```ask\nid: e\nmethod: exponential\nby: cast_method\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\ncompare: [log-normal, weibull]\n```\n\n" +
		"```ask\nid: ln\nmethod: log-normal\nby: cast_method\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\ncompare: [log-normal, weibull]\n```\n\n```ask\nid: ll\nmethod: log-logistic\nevent: {ply: 8..}\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\ncompare: [log-normal, weibull]\n```\n\n" +
		"```ask\nid: gg\nmethod: generalised-gamma\nkeep: {kind: definitive}\nby: cast_method\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\ncompare: [log-normal, weibull]\n```\n\n" +
		"```ask\nid: c\nmethod: cox\nby: cast_method\nadjusted: yes\nadjust: [age]\nspline: {age: 3}\ncontrasts: {age: [60, 50]}\n```\n\n" +
		"```ask\nid: parted\nmethod: cox\nby: cast_method\nsplit: {cast_method: 180d}\n```\n\n" +
		"```ask\nid: numbered\nmethod: cox\nrows: limbs\nkeep: {level: [transtibial, transfemoral]}\nevent: {purpose: walk-in}\nby: level\nrepeats: marginal\nstrata: [event_number]\nsplit: {level: event_number}\n```\n\n" +
		"```ask\nid: rate\nmethod: kaplan-meier\nhazard: 6m\n```\n\n" +
		"```ask\nid: cr\nmethod: cox\nby: side\nrepeats: total-time\nvarying: [ply]\n```\n\n" +
		"```ask\nid: again\nmethod: agreement\noutcome: volume_ml\nways: repeat\nsame: [limb, date, landmark, over]\n```\n\n" +
		"```ask\nid: rated\nmethod: agreement\noutcome: minutes_off\nways: repeat\nsame: [limb, date, landmark, over]\nweighting: linear\n```\n\n" +
		"```ask\nid: fr\nmethod: cox\nrows: persons\nevent: {purpose: walk-in}\nrepeats: total-time\nby: sex\nfrailty: gamma\n```\n\n" +
		"```ask\nid: plan\nmethod: sample-size\nratios: 0.6\nuntil: 1y\nsockets: 100\n```\n\n" +
		"```ask\nid: diag\nmethod: cox\nkeep: {delivered: 2023-07-01..}\nby: cast_method\ndiagnostics: yes\n```\n\n" +
		"```ask\nid: filled\nmethod: cox\nkeep: {kind: definitive}\nby: cast_method\nadjust: [cause, activity]\nmissing: impute\nimputations: 5\n```\n\n" +
		"```ask\nid: filled-too\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\nmissing: impute\nimputations: 5\n```\n\n" +
		"```ask\nid: watch\nmethod: watch\nahead: 180d\nevery: 90d\nresamples: 100\nkeep: {kind: definitive}\nvarying: [comfort]\nspline: {comfort: 3}\n```\n\n" +
		"```ask\nid: pairs\nmethod: pareto\nrows: visits\nby: action\nchange: 2025-01-13\n```\n\n" +
		"```ask\nid: map\nmethod: findings-map\nchange: 2025-01-13\n```\n\n" +
		"```ask\nid: sums\nmethod: cumulative-sum\nrows: sockets\nnumerator: {first_fit: yes}\ndenominator: {first_fit: known}\nfalse_alarm: 1y\n```\n\n" +
		"```ask\nid: units\nmethod: funnel\nrows: sockets\nby: cast_method\nnumerator: {first_fit: yes}\ndenominator: {first_fit: known}\nadjust: [level]\n```\n\n" +
		"```ask\nid: seg\nmethod: segmented\nrows: visits\noutcome: comfort\nchange: 2025-01-13\n```\n\n" +
		"```ask\nid: strip\nmethod: completeness\nrows: visits\ncolumns: [comfort, ply]\n```\n\n" +
		"```ask\nid: coming\nmethod: forecast\nrows: visits\ncourse: trend\nseasonal: yes\n```\n\n" +
		"```ask\nid: mat\nmethod: maturation\nkeep: {level: transtibial, months_since_amputation: ..36}\nlimb: P011L\ntimes: [90d]\n```\n\n" +
		"```ask\nid: next\nmethod: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nlimb: P011L\ntimes: 30d\n```\n\n" +
		"```ask\nid: looked\nmethod: follow-up\nkeep: {kind: definitive}\nby: cast_method\n```\n\n" +
		"```ask\nid: vol\nmethod: limb-volume\n```\n\n" +
		"```ask\nid: layers\nmethod: sock-volume\n```\n\n" +
		"```ask\nid: hours\nmethod: rhythm\noutcome: comfort\ncycle: day\n```\n\n" +
		"```ask\nid: ci\nmethod: cumulative-incidence\nby: cast_method\n```\n"
	if err := os.WriteFile(filepath.Join(dir, "demo", "further.md"), []byte(more), 0o644); err != nil {
		t.Fatal(err)
	}
	names := []string{"quality", "workshop", "research", "annual", "further"}
	args := []string{"run"}
	for _, n := range names {
		args = append(args, filepath.Join("demo", n+".md"))
	}
	plybook(t, dir, args...).want(t, statusDone)
	seen := map[[2]string]bool{}
	for _, n := range names {
		b, err := os.ReadFile(filepath.Join(dir, "demo", n+"-report", "numbers.json"))
		if err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Answers []struct {
				ID, Method string
				Tables     map[string][]json.RawMessage
			}
		}
		if err := json.Unmarshal(b, &doc); err != nil {
			t.Fatal(err)
		}
		for _, a := range doc.Answers {
			for name, rows := range a.Tables {
				key := [2]string{a.Method, name}
				want, ok := listed[key]
				if !ok {
					t.Errorf("%s %s: the table %s of %s is not listed", n, a.ID, name, a.Method)
					continue
				}
				if len(rows) == 0 {
					continue
				}
				seen[key] = true
				got := keysInOrder(t, rows[0])
				var read []string // as listed, without those in brackets that are not there
				for _, c := range want {
					bare := strings.Trim(c, "()")
					if bare == c || slices.Contains(got, bare) {
						read = append(read, bare)
					}
				}
				if !slices.Equal(got, read) {
					t.Errorf("%s %s: %s of %s has columns\n%v, listed are\n%v", n, a.ID, name, a.Method, got, want)
				}
			}
		}
	}
	for key := range listed {
		if !seen[key] {
			t.Errorf("the table %s of %s is listed but no answer had a row of it", key[1], key[0])
		}
	}
}
