package answer

// Lines that are printed wherever the rows of an answer could lead to harm.
const (
	checkSocketText = "Check sockets are among these rows. A check socket is for a supervised fitting only: it is not to be worn unsupervised."
	skinText        = "Skin breakdown is among these rows. Refer any person with broken skin to a clinician before the socket is worn again; follow local practice."
	shopText        = "Forming sheet plastic: wear dry gloves, cover the forearms and wear closed shoes; ventilate, since overheated plastic gives off harmful fumes; keep plaster and grinding dust out of the air you breathe. These numbers record what was done and recommend nothing: the sheet maker's data and local codes come first."
)

// brokenSkin are the findings and the end reason that mean broken skin.
var brokenSkin = map[string]bool{"ulcer": true, "blister": true, "abrasion": true, "remake: skin breakdown": true}

// safety prints the lines that the rows chosen call for.
func (w *work) safety() {
	if w.hasAny("kind", func(s string) bool { return s == "check" }) {
		w.caution("check-socket", checkSocketText)
	}
	if w.hasAny("finding", func(s string) bool { return brokenSkin[s] }) {
		w.caution("skin", skinText)
	}
	if w.table.Name == "forming" && len(w.rows) > 0 {
		w.caution("shop", shopText)
	}
}

// hasAny says whether any of the rows chosen has a text that is.
func (w *work) hasAny(column string, is func(string) bool) bool {
	c, ok := w.table.Col(column)
	if !ok || c.Text == nil {
		return false
	}
	for _, i := range w.rows {
		if is(c.Text[i]) {
			return true
		}
	}
	return false
}
