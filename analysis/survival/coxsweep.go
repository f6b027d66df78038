package survival

// moments are weighted sums over rows: of the risk, the risk times the
// columns, the risk times their products (upper triangle, row by row), and,
// where asked for, the risk times products of three.
type moments struct {
	s0 float64
	s1 []float64
	s2 []float64
	s3 []float64 // by first, second and third column, none before the one before; nil: not kept
}

func newMoments(p int) moments {
	return moments{s1: make([]float64, p), s2: make([]float64, p*(p+1)/2)}
}

func (m *coxModel) newMoments() moments {
	out := newMoments(m.p)
	if m.third {
		out.s3 = make([]float64, m.p*(m.p+1)*(m.p+2)/6)
	}
	return out
}

func (m *moments) reset() {
	m.s0 = 0
	clear(m.s1)
	clear(m.s2)
	clear(m.s3)
}

// add adds a row with columns z and weighted risk r; below 0 takes it away.
func (m *moments) add(z []float64, r float64) {
	m.s0 += r
	k := 0
	for a, x := range z {
		rx := r * x
		m.s1[a] += rx
		for _, y := range z[a:] {
			m.s2[k] += rx * y
			k++
		}
	}
	if m.s3 == nil {
		return
	}
	k = 0
	for a, x := range z {
		for b, y := range z[a:] {
			rxy := r * x * y
			for _, v := range z[a+b:] {
				m.s3[k] += rxy * v
				k++
			}
		}
	}
}

// set makes the moments those of o.
func (m *moments) set(o *moments) {
	m.s0 = o.s0
	copy(m.s1, o.s1)
	copy(m.s2, o.s2)
}

// sum adds f times the moments of o.
func (m *moments) sum(o *moments, f float64) {
	m.s0 += f * o.s0
	for j, x := range o.s1 {
		m.s1[j] += f * x
	}
	for j, x := range o.s2 {
		m.s2[j] += f * x
	}
}

// riskSet is what a sweep shows at one time with events.
type riskSet struct {
	stratum int // index into the blocks
	time    float64
	events  []int   // the rows with the event
	rows    int     // rows at risk
	weight  float64 // of the events
	all     moments // over the rows at risk
	dead    moments // over the rows with the event
	pieces  []piece
}

// piece is one of the terms that tied events contribute. The average risk
// set of the piece is all - share*dead, and it counts for count events.
// Breslow's formula has one piece with share 0.
type piece struct{ count, share, s0 float64 }

// mean is the mean of column j over the rows at risk in piece x.
func (r *riskSet) mean(x piece, j int) float64 {
	return (r.all.s1[j] - x.share*r.dead.s1[j]) / x.s0
}

// split makes the pieces. Of w tied events that stand for equal rows, the
// first sees everybody, the second everybody less an average event, and so
// on; a remainder below 1 counts in proportion. As sampling weights, the
// number of rows is what counts and all share the mean weight.
func (r *riskSet) split(ties Ties, sampling bool) {
	r.pieces = r.pieces[:0]
	if ties != Efron || (len(r.events) == 1 && (sampling || r.weight <= 1)) {
		r.pieces = append(r.pieces, piece{r.weight, 0, r.all.s0})
		return
	}
	number, each := r.weight, 1.0
	if sampling {
		number = float64(len(r.events))
		each = r.weight / number
	}
	for l := 0.0; l < number; l++ {
		share := l / number
		r.pieces = append(r.pieces, piece{each * min(1, number-l), share, r.all.s0 - share*r.dead.s0})
	}
}

// sweep goes through each stratum backwards in time, keeping the moments of
// the risk set by adding each row at its end and taking it away at its
// entry, and shows every time with events to visit. risk is that of each
// row. What visit is shown is valid only during the call.
//
// Taking rows away leaves rounding errors, so the moments are made afresh
// when nobody is left and when they have become small beside what they were.
// Rows that linger after another ending are added at each visit only.
func (m *coxModel) sweep(risk []float64, visit func(*riskSet)) {
	const afresh = 1e-4
	d := m.data
	r := &riskSet{all: m.newMoments(), dead: m.newMoments()}
	full := m.full()
	row := func(i int) []float64 { return full.z[i*m.p : (i+1)*m.p] }
	stay := m.lingeringMoments(risk)
	plain := newMoments(m.p)
	for b := range m.blocks {
		byTime, byEntry := full.byTime[b], full.byEntry[b]
		r.stratum, r.rows = b, 0
		r.all.reset()
		out, peak := 0, 0.0
		for k := 0; k < len(byTime); {
			at := d.Time[byTime[k]]
			for ; out < len(byEntry) && m.from(byEntry[out]) >= at; out++ {
				i := byEntry[out]
				r.all.add(row(i), -m.weight(i)*risk[i])
				r.rows--
			}
			if r.rows == 0 {
				r.all.reset()
				peak = 0
			} else if r.all.s0 < afresh*peak {
				r.all.reset()
				for _, i := range byTime[:k] {
					if m.from(i) < at {
						r.all.add(row(i), m.weight(i)*risk[i])
					}
				}
				peak = r.all.s0
			}
			r.time, r.events, r.weight = at, r.events[:0], 0
			for ; k < len(byTime) && d.Time[byTime[k]] == at; k++ {
				i := byTime[k]
				r.all.add(row(i), m.weight(i)*risk[i])
				r.rows++
				if d.Event[i] {
					if len(r.events) == 0 {
						r.dead.reset()
					}
					r.dead.add(row(i), m.weight(i)*risk[i])
					r.events = append(r.events, i)
					r.weight += m.weight(i)
				}
			}
			peak = max(peak, r.all.s0)
			switch {
			case len(r.events) == 0:
			case stay == nil:
				r.split(m.ties, m.sampling)
				visit(r)
			default:
				plain.set(&r.all)
				r.all.sum(&stay[len(stay)-1], m.lingering.stays(at))
				stay = stay[:len(stay)-1]
				r.split(m.ties, m.sampling)
				visit(r)
				r.all.set(&plain)
			}
		}
	}
}
