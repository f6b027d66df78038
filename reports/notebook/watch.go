package notebook

// everyDays is how far apart the landmarks of a watch are unless said
// otherwise.
const everyDays = 30

// defaultsOfWatch fills what an ask of watch leaves out.
func (r *askReader) defaultsOfWatch() {
	a := r.ask
	if a.Every == nil && !r.has("every") {
		a.Every = &Duration{Days: everyDays, Text: "30d"}
	}
	if a.Resamples == 0 && !r.has("resamples") {
		a.Resamples = 200
	}
	if a.Listed == 0 && !r.has("listed") {
		a.Listed = 20
	}
}

// checkWatch reports lengths of time that no watch can have.
func (r *askReader) checkWatch() {
	a := r.ask
	if a.Method != "watch" {
		return
	}
	for _, x := range []struct {
		key string
		d   *Duration
	}{{"ahead", a.Ahead}, {"every", a.Every}} {
		if x.d != nil && x.d.Days < 1 {
			r.fail(a.At(x.key, x.d.Text), CodeBadValue, "`%s` is a day or more, not %s", x.key, x.d.Text)
		}
	}
}
