package ingest

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// BlankOptions are what WriteBlank can be told. The zero value is an empty
// log of all six tables.
type BlankOptions struct {
	// Tables are the tables wanted, in any order; none for all six.
	Tables []string
	// From is a log from which limbs and sockets in use are carried over, nil
	// for none: the limbs of people not known to have died, and of each limb
	// the sockets delivered last and still open, one for each use. Check
	// sockets, visits and measurements are not.
	From *Log
}

// ErrBlankNames is of a log that cannot be carried over because its people
// are called by names or numbers rather than codes.
var ErrBlankNames = errors.New("the log calls people by names or record numbers, and a blank log takes codes only")

// madeOf is what an intake puts behind a limb to make the identifier of a
// socket: days, words of the log and numbers.
var madeOf = regexp.MustCompile(`^(?: (?:\d{4}-\d{2}-\d{2}|[a-z]+|\d{1,3}))*$`)

func (o BlankOptions) check() error {
	for _, t := range o.Tables {
		if !slices.Contains(Tables(), t) {
			near := nearWord(t, Tables())
			if near != "" {
				return fmt.Errorf("there is no table %q; did you mean %q?", t, near)
			}
			return fmt.Errorf("there is no table %q; the tables are %s", t, strings.Join(Tables(), ", "))
		}
	}
	if o.From == nil {
		return nil
	}
	if o.wants(TableSockets) && !o.wants(TableLimbs) {
		return errors.New("sockets carried over need their limbs: ask for the table limbs too")
	}
	if !o.wants(TableLimbs) {
		return errors.New("only limbs and sockets are carried over, and neither table is asked for")
	}
	var ids []string
	for _, l := range o.From.Limbs {
		ids = append(ids, l.Person, l.Limb)
	}
	for _, s := range o.From.Sockets {
		if rest, ok := strings.CutPrefix(s.Socket, s.Limb); ok && madeOf.MatchString(rest) {
			continue // made by an intake of its limb and a day or number
		}
		ids = append(ids, s.Socket)
	}
	if len(ids) > 0 && !LooksLikeCode(ids) {
		return ErrBlankNames
	}
	return nil
}

func (o BlankOptions) wants(table string) bool {
	return len(o.Tables) == 0 || slices.Contains(o.Tables, table)
}

// carry fills in what is known, as codes and true dates.
func (b *blank) carry() error {
	if b.opts.From == nil {
		return nil
	}
	kept := map[string]bool{}
	row := 1
	for _, l := range b.opts.From.Limbs {
		if l.Died.OK {
			continue
		}
		kept[l.Limb] = true
		row++
		if err := b.fill(TableLimbs, row, map[string]any{"person": l.Person, "limb": l.Limb, "side": l.Side.Code, "level": l.Level.Code, "cause": l.Cause.Code, "amputated": l.Amputated,
			"born": l.Born, "sex": l.Sex.Code, "activity": l.Activity.Code, "programme": l.Programme, "last_seen": l.LastSeen}); err != nil {
			return err
		}
	}
	if !b.opts.wants(TableSockets) {
		return nil
	}
	row = 1
	for _, s := range socketsInUse(b.opts.From) {
		if !kept[s.Limb] {
			continue
		}
		row++
		if err := b.fill(TableSockets, row, map[string]any{"socket": s.Socket, "limb": s.Limb, "kind": s.Kind.Code, "number": s.Number, "use": s.Use.Code, "cast_on": s.CastOn,
			"cast_method": s.CastMethod, "shape_method": s.ShapeMethod.Code, "shape_style": s.ShapeStyle, "material": s.Material, "liner_mm": s.LinerMM, "suspension": s.Suspension,
			"site": s.Site, "delivered": s.Delivered}); err != nil {
			return err
		}
	}
	return nil
}

// socketsInUse are the sockets without an end, of each limb and use the one
// delivered last, in the log's order.
func socketsInUse(log *Log) []Socket {
	replaced := map[string]bool{}
	for _, s := range log.Sockets {
		if s.Delivered.OK && s.Replaces != "" {
			replaced[s.Replaces] = true
		}
	}
	type place struct{ limb, use string }
	last := map[place]int{}
	at := func(s Socket) place {
		if s.Use.Code == "everyday" {
			return place{s.Limb, ""}
		}
		return place{s.Limb, s.Use.Code}
	}
	// A later socket takes the place of an earlier one even where it has
	// itself ended since: the earlier one's end was not written down.
	for i, s := range log.Sockets {
		if !s.Delivered.OK || s.Kind.Code == "check" {
			continue
		}
		if j, ok := last[at(s)]; !ok || log.Sockets[j].Delivered.Value <= s.Delivered.Value {
			last[at(s)] = i
		}
	}
	var out []Socket
	for i, s := range log.Sockets {
		if j, ok := last[at(s)]; ok && i == j && !s.Ended.OK && !s.RemakeDecided.OK && !replaced[s.Socket] {
			out = append(out, s)
		}
	}
	return out
}

// fill writes a row of a table; missing values stay blank.
func (b *blank) fill(table string, row int, values map[string]any) error {
	for i, field := range schema[table] {
		cell := cellName(i, row)
		var err error
		switch v := values[field.Name].(type) {
		case string:
			if v != "" {
				err = b.f.SetCellStr(table, cell, v)
			}
		case Opt[int]:
			if v.OK {
				err = b.f.SetCellInt(table, cell, int64(v.Value))
			}
		case Opt[float64]:
			if v.OK {
				err = b.f.SetCellFloat(table, cell, v.Value, -1, 64)
			}
		case Opt[Date]:
			if v.OK {
				if err = b.f.SetCellInt(table, cell, int64(v.Value)+25569); err == nil { // 1970-01-01 is day 25569
					err = b.f.SetCellStyle(table, cell, cell, b.style.date)
				}
			}
		}
		if err != nil {
			return fmt.Errorf("cell %s: %w", cell, err)
		}
	}
	return nil
}
