package answer

import (
	"slices"
	"testing"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// Every key of an ask that takes a column is looked at, keys to come
// included, but for those between whose dates times are measured.
func TestEveryColumnOfAnAskIsLookedAt(t *testing.T) {
	for key, ask := range map[string]*notebook.Ask{
		"by": {By: "delivered"}, "adjust": {Adjust: []string{"delivered"}}, "columns": {Columns: []string{"delivered"}}, "factors": {Factors: []string{"delivered"}},
		"strata": {Strata: []string{"delivered"}}, "varying": {Varying: []string{"delivered"}}, "weights": {Weights: "delivered"}, "offset": {Offset: "delivered"},
		"cluster": {Cluster: "delivered"}, "outcome": {Outcome: "delivered"}, "time": {Time: "delivered"}, "within": {Within: "delivered"}, "slopes": {Slopes: []string{"delivered"}},
		"dated": {Dated: "delivered"}, "shared_by": {SharedBy: "delivered"}, "exposure": {Exposure: "delivered"}, "entered": {Entered: "delivered"}, "ways": {Ways: "delivered"},
		"same": {Same: []string{"delivered"}}, "interact": {Interact: [][2]string{{"age", "delivered"}}}, "spline": {Spline: []notebook.SplineTerm{{Column: "delivered"}}},
		"contrasts": {Contrasts: []notebook.Comparison{{Column: "delivered"}}},
	} {
		if !slices.Contains(columnsUsed(ask), usedColumn{key, "delivered"}) {
			t.Errorf("%s is not looked at for dates", key)
		}
	}
	if used := columnsUsed(&notebook.Ask{Start: "referred", End: "ended", Entry: "cast_on"}); slices.ContainsFunc(used, func(u usedColumn) bool { return u.name != "" }) {
		t.Errorf("times between dates are refused: %v", used)
	}
	condition := table.Condition{Clauses: []table.Clause{{Column: "delivered"}}}
	for key, ask := range map[string]*notebook.Ask{
		"keep": {Keep: condition}, "event": {Event: &notebook.EventSpec{Condition: &condition}}, "competing": {Competing: &notebook.EventSpec{Condition: &condition}},
		"numerator": {Numerator: &notebook.Count{Condition: condition}}, "denominator": {Denominator: &notebook.Count{Condition: condition}},
		"outcome": {OutcomeWhen: &condition},
	} {
		if !slices.ContainsFunc(conditionsUsed(ask), func(u usedCondition) bool { return u.key == key && len(u.condition.Clauses) == 1 }) {
			t.Errorf("%s is not looked at for dates", key)
		}
	}
}

// Every method that goes with a shift of dates is one.
func TestMethodsOfTimesAlone(t *testing.T) {
	for _, m := range methods() {
		switch m.name {
		case "control-chart", "segmented", "watch", "forecast":
			if timesAlone[m.name] {
				t.Errorf("%s is asked of days of the calendar", m.name)
			}
		}
	}
	for _, name := range []string{"kaplan-meier", "cox", "mixed", "summary"} {
		if !timesAlone[name] || !slices.ContainsFunc(methods(), func(m method) bool { return m.name == name }) {
			t.Errorf("%s does not go with a shift of dates", name)
		}
	}
}
