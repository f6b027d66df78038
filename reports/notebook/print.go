package notebook

// Print is how much of a report goes on paper; the page for the screen always
// has all of it.
type Print string

// The forms of print.
const (
	Short Print = "short" // each answer in a sentence or two with a small figure
	Full  Print = "full"
	// MainFirst has of each answer the reading, the main table and figure and
	// the cautions, and the rest behind the notebook's own parts.
	MainFirst Print = "main-first"
)
