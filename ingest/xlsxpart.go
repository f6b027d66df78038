package ingest

import (
	"bufio"
	"bytes"
	"fmt"
	"io"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

const (
	blockSize  = 256 << 10
	blockCount = 4
)

// partStream unpacks a part on one core while it is read on another.
type partStream struct {
	in     io.ReadCloser
	full   chan unpacked
	empty  chan []byte
	stop   chan struct{}
	done   chan struct{}
	now    []byte
	whole  []byte // the block that now is the rest of
	failed error
}

type unpacked struct {
	data []byte
	err  error
}

// stream opens a part for one reading from top to bottom, as UTF-8. It must be
// closed.
func (b *bookParts) stream(name string) (*partStream, error) {
	in, err := b.open(name)
	if err != nil {
		return nil, err
	}
	p := &partStream{in: in, full: make(chan unpacked, blockCount), empty: make(chan []byte, blockCount), stop: make(chan struct{}), done: make(chan struct{})}
	for range blockCount {
		p.empty <- make([]byte, blockSize)
	}
	go p.unpack()
	return p, nil
}

func (p *partStream) unpack() {
	defer close(p.done)
	text, err := asUTF8(p.in)
	for {
		var buf []byte
		select {
		case buf = <-p.empty:
		case <-p.stop:
			return
		}
		n := 0
		for n < len(buf) && err == nil {
			var k int
			k, err = text.Read(buf[n:])
			n += k
		}
		select {
		case p.full <- unpacked{buf[:n], err}:
		case <-p.stop:
			return
		}
		if err != nil {
			return
		}
	}
}

func (p *partStream) Read(b []byte) (int, error) {
	for len(p.now) == 0 {
		if p.failed != nil {
			return 0, p.failed
		}
		if p.whole != nil {
			p.empty <- p.whole[:blockSize]
			p.whole = nil
		}
		next := <-p.full
		p.now, p.whole, p.failed = next.data, next.data, next.err
	}
	n := copy(b, p.now)
	p.now = p.now[n:]
	return n, nil
}

// close waits for the unpacking to end.
func (p *partStream) close() {
	close(p.stop)
	<-p.done
	p.in.Close()
}

// asUTF8 recodes a part in UTF-16, which the standard allows and hardly a
// program writes.
func asUTF8(in io.Reader) (io.Reader, error) {
	r := bufio.NewReaderSize(in, 64<<10)
	head, err := r.Peek(2)
	if err != nil && len(head) == 0 {
		return r, err
	}
	if string(head) == "\xff\xfe" || string(head) == "\xfe\xff" {
		return transform.NewReader(r, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder()), nil
	}
	if string(head) == "\xef\xbb" {
		if _, err := r.Discard(3); err != nil {
			return r, err
		}
	}
	return r, nil
}

// toUTF8 is asUTF8 for a part read whole.
func toUTF8(data []byte) ([]byte, error) {
	r, err := asUTF8(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%w (a part is empty)", ErrTruncated)
	}
	return io.ReadAll(r)
}
