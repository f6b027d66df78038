package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Tile is a share of one; NaN where there is none. Text is printed in it.
type Tile struct {
	Share float64
	Text  string
	Below bool // under the goal: cornered
}

// TileRow is a line of tiles.
type TileRow struct {
	Name  string
	Tiles []Tile
}

// TilesSpec says what to draw.
type TilesSpec struct {
	ID, Title string
	Axis      string   // what the tiles show: "Recorded (%)"
	Heads     []string // above the tiles
	Rows      []TileRow
	Goal      float64 // 0: none
	Width     vg.Length
}

// Tiles draws shares as a table of shaded tiles with the number in each. What
// lies under the goal has a filled corner, so that shade is not needed to see it.
func Tiles(spec TilesSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title, Told: true}
	if spec.Axis == "" {
		spec.Axis = "Share (%)"
	}
	if fig.Title == "" {
		fig.Title = spec.Axis
	}
	if len(spec.Rows) == 0 || len(spec.Heads) == 0 {
		return nothing(fig, spec.Width, "There is nothing to show.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	var names []string
	for _, r := range spec.Rows {
		names = append(names, r.Name)
	}
	room, wrapped, cut := labelRoom(names, f.width, 0.36, false)
	f.left, f.right = room, f.width
	f.top = f.heading(0, spec.Axis, "") - 4
	pitch := (f.right - f.left) / vg.Length(len(spec.Heads))
	deep := vg.Length(0)
	for i, h := range spec.Heads {
		lines, _ := small.wrap(h, pitch-4, 2)
		for k, l := range lines {
			f.text(f.left+(vg.Length(i)+0.5)*pitch, f.top-vg.Length(k+1)*small.line()+small.descent(), l, small, quiet, centred)
		}
		deep = max(deep, vg.Length(len(lines))*small.line())
	}
	y := f.top - deep - 2
	var long []string
	f.tellHeads("Line", "Column", spec.Axis)
	below := 0
	for r, row := range spec.Rows {
		tall := max(plain.line()+5, vg.Length(len(wrapped[r]))*plain.line()+2)
		mid := y - tall/2
		at := mid + vg.Length(len(wrapped[r])-1)*plain.line()/2
		for _, l := range wrapped[r] {
			f.middle(0, at, l, plain, ink, fromLeft)
			at -= plain.line()
		}
		var said []string
		for i, t := range row.Tiles {
			x0 := f.left + vg.Length(i)*pitch
			area := box(x0+1, y-tall+1, x0+pitch-1, y-1)
			col := wash
			if finite(t.Share) {
				col = shade(min(max(t.Share, 0), 1))
			}
			f.polygon(area, col)
			f.middle(x0+pitch/2, mid, t.Text, plain, ink, centred)
			if t.Below {
				below++
				f.polygon([]vg.Point{{X: x0 + pitch - 8, Y: y - 1}, {X: x0 + pitch - 1, Y: y - 1}, {X: x0 + pitch - 1, Y: y - 8}}, ink)
			}
			if i < len(spec.Heads) {
				said = append(said, spec.Heads[i]+" "+t.Text)
				f.tell(x0+pitch/2, mid, row.Name, spec.Heads[i], t.Text)
			}
		}
		long = append(long, row.Name+": "+strings.Join(said, ", "))
		y -= tall
	}
	f.below = y - 2
	if spec.Goal > 0 {
		f.notes(fmt.Sprintf("A filled corner: under %s%%.", trimmed(decimal(100*spec.Goal, 1))))
	}
	fig.Description = fmt.Sprintf("%s: %s by %s", spec.Axis, plural(len(spec.Rows), "line", "lines"), plural(len(spec.Heads), "column", "columns"))
	if spec.Goal > 0 {
		fig.Description += fmt.Sprintf("; under %s%%: %s", trimmed(decimal(100*spec.Goal, 1)), plural(below, "tile", "tiles"))
	}
	fig.Description += "."
	fig.Long = strings.Join(long, "; ") + "." + cutNote(cut)
	return f.finish(fig)
}
