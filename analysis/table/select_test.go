package table

import (
	"errors"
	"reflect"
	"testing"
)

func TestSelectSharesColumns(t *testing.T) {
	full := sockets(t)
	full.Origin[3] = Origin{Sheet: 2, Row: 9}
	got, err := full.Select("ply", "own.age", "ply")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Names(), []string{"own.age", "ply"}) || got.Rows() != 5 || got.Name != "sockets" || got.Origin[3].Row != 9 {
		t.Errorf("selected %v, %d rows of %s", got.Names(), got.Rows(), got.Name)
	}
	a, _ := full.Col("ply")
	if b, _ := got.Col("ply"); a != b {
		t.Error("the column was copied")
	}
	var ce *ConditionError
	for _, name := range []string{"plyy", "age"} {
		if _, err := full.Select("kind", name); !errors.As(err, &ce) || ce.Column != name {
			t.Errorf("%s: %v", name, err)
		}
	}
}
