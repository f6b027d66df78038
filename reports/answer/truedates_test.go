package answer

import (
	"reflect"
	"slices"
	"testing"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// notColumns are the texts of an ask that name no column whose values count:
// words of its own, and the dates between which times are measured.
var notColumns = []string{"ID", "Question", "Method", "Rows", "Note", "Repeats", "Bounds", "Ties", "Penalty", "Estimate", "Scale", "Period", "Chart", "Better",
	"AdjustP", "Plan", "Src", "Tests", "Compare", "Start", "End", "Entry"}

// Every key of an ask that takes a column is looked at, those of keys to come
// included.
func TestEveryColumnOfAnAskIsLookedAt(t *testing.T) {
	kind := reflect.TypeFor[notebook.Ask]()
	for i := range kind.NumField() {
		field := kind.Field(i)
		if !field.IsExported() || slices.Contains(notColumns, field.Name) {
			continue
		}
		ask := &notebook.Ask{}
		value := reflect.ValueOf(ask).Elem().Field(i)
		switch {
		case field.Type.Kind() == reflect.String:
			value.SetString("delivered")
		case field.Type == reflect.TypeFor[[]string]():
			value.Set(reflect.ValueOf([]string{"delivered"}))
		case field.Type == reflect.TypeFor[[][2]string]():
			value.Set(reflect.ValueOf([][2]string{{"age", "delivered"}}))
		case field.Type == reflect.TypeFor[[]notebook.SplineTerm]():
			value.Set(reflect.ValueOf([]notebook.SplineTerm{{Column: "delivered"}}))
		case field.Type == reflect.TypeFor[[]notebook.Comparison]():
			value.Set(reflect.ValueOf([]notebook.Comparison{{Column: "delivered"}}))
		default:
			continue
		}
		if !slices.ContainsFunc(columnsUsed(ask), func(u usedColumn) bool { return u.name == "delivered" }) {
			t.Errorf("%s is not looked at for dates", field.Name)
		}
	}
	condition := table.Condition{Clauses: []table.Clause{{Column: "delivered"}}}
	for key, ask := range map[string]*notebook.Ask{
		"keep": {Keep: condition}, "event": {Event: &notebook.EventSpec{Condition: &condition}}, "competing": {Competing: &notebook.EventSpec{Condition: &condition}},
		"numerator": {Numerator: &notebook.Count{Condition: condition}}, "denominator": {Denominator: &notebook.Count{Condition: condition}},
	} {
		if !slices.ContainsFunc(conditionsUsed(ask), func(u usedCondition) bool { return u.key == key && len(u.condition.Clauses) == 1 }) {
			t.Errorf("%s is not looked at for dates", key)
		}
	}
}
