// Package browser opens pages in Chromium for the tests: what a page writes to
// the console, what it asks the network for, what keys and a pointer do to it.
// Only tests use it.
//
// It speaks the browser's debugging protocol over two pipes: messages in JSON,
// each ended by a zero byte.
package browser

import (
	"bufio"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// patience is how long the browser may take over one command.
const patience = 60 * time.Second

// Browser is a running Chromium.
type Browser struct {
	to      *os.File
	mu      sync.Mutex
	next    int
	waiting map[int]chan message
	pages   map[string]*Page // by session
	ended   error
}

type message struct {
	ID        int             `json:"id"`
	Session   string          `json:"sessionId"`
	Method    string          `json:"method"`
	Params    json.RawMessage `json:"params"`
	Result    json.RawMessage `json:"result"`
	Complaint *struct {
		Message string `json:"message"`
	} `json:"error"`
}

// Start starts Chromium for a test, which ends it. Where PLYBOOK_NEED_BROWSER
// is set, as on the machine that judges a change, its absence fails the test;
// elsewhere it skips it.
func Start(t *testing.T) *Browser {
	t.Helper()
	tool := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			tool = path
			break
		}
	}
	if tool == "" {
		if os.Getenv("PLYBOOK_NEED_BROWSER") != "" {
			t.Fatal("chromium is needed: install chromium")
		}
		t.Skip("chromium is not installed; the pages are not opened in a browser")
	}
	commands, to, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	from, events, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"--headless", "--remote-debugging-pipe", "--user-data-dir=" + filepath.Join(t.TempDir(), "profile"),
		"--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
		"--host-resolver-rules=MAP * ~NOTFOUND", "--force-color-profile=srgb", "about:blank"}
	if os.Geteuid() == 0 {
		args = append([]string{"--no-sandbox"}, args...) // its own cage refuses the superuser
	}
	cmd := exec.Command(tool, args...)
	cmd.ExtraFiles = []*os.File{commands, events}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	commands.Close()
	events.Close()
	b := &Browser{to: to, waiting: map[int]chan message{}, pages: map[string]*Page{}}
	go b.listen(from)
	t.Cleanup(func() {
		_, _ = b.call("", "Browser.close", nil)
		done := make(chan struct{})
		go func() { _ = cmd.Wait(); close(done) }()
		select {
		case <-done:
		case <-time.After(10 * time.Second):
			_ = cmd.Process.Kill()
			<-done
		}
		to.Close()
		from.Close()
	})
	return b
}

func (b *Browser) listen(from *os.File) {
	r := bufio.NewReaderSize(from, 1<<20)
	for {
		raw, err := r.ReadBytes(0)
		if err != nil {
			b.end(fmt.Errorf("the browser went away: %w", err))
			return
		}
		var m message
		if err := json.Unmarshal(raw[:len(raw)-1], &m); err != nil {
			b.end(fmt.Errorf("the browser sent what is no message: %w", err))
			return
		}
		b.mu.Lock()
		if m.ID > 0 {
			if c := b.waiting[m.ID]; c != nil {
				delete(b.waiting, m.ID)
				c <- m
			}
		} else if p := b.pages[m.Session]; p != nil {
			p.note(m)
		}
		b.mu.Unlock()
	}
}

func (b *Browser) end(err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.ended = err
	for id, c := range b.waiting {
		delete(b.waiting, id)
		close(c)
	}
}

func (b *Browser) call(session, method string, params any) (json.RawMessage, error) {
	b.mu.Lock()
	if b.ended != nil {
		b.mu.Unlock()
		return nil, b.ended
	}
	b.next++
	id := b.next
	c := make(chan message, 1)
	b.waiting[id] = c
	what := map[string]any{"id": id, "method": method}
	if session != "" {
		what["sessionId"] = session
	}
	if params != nil {
		what["params"] = params
	}
	raw, err := json.Marshal(what)
	if err == nil {
		_, err = b.to.Write(append(raw, 0))
	}
	b.mu.Unlock()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", method, err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	select {
	case m, ok := <-c:
		switch {
		case !ok:
			return nil, fmt.Errorf("%s: %w", method, b.ended)
		case m.Complaint != nil:
			return nil, fmt.Errorf("%s: %s", method, m.Complaint.Message)
		}
		return m.Result, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("%s: no answer within %v", method, patience)
	}
}

// Options are how a page is opened. The zero value is a light page with
// scripts.
type Options struct {
	Dark      bool
	NoScripts bool
	Width     int // of the window, in CSS pixels; default 1100
	// Before runs ahead of every script of the page.
	Before string
	// Anything allows what the page's own policy forbids to scripts that a
	// test brings along.
	Anything bool
}

// Page is an open page.
type Page struct {
	b        *Browser
	session  string
	loaded   chan struct{}
	console  []string
	requests []string
	loads    int
}

// note keeps what an event tells. The browser's lock is held.
func (p *Page) note(m message) {
	switch m.Method {
	case "Page.loadEventFired":
		if p.loads++; p.loads == 1 {
			close(p.loaded)
		}
	case "Network.requestWillBeSent":
		var e struct {
			Request struct {
				URL string `json:"url"`
			} `json:"request"`
		}
		if json.Unmarshal(m.Params, &e) == nil && !strings.HasPrefix(e.Request.URL, "data:") && !strings.HasPrefix(e.Request.URL, "blob:") {
			p.requests = append(p.requests, e.Request.URL)
		}
	case "Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled":
		p.console = append(p.console, fmt.Sprintf("%s %s", m.Method, m.Params))
	}
}

// Open opens a file and waits until it is loaded.
func (b *Browser) Open(t *testing.T, file string, o Options) *Page {
	t.Helper()
	path, err := filepath.Abs(file)
	if err != nil {
		t.Fatal(err)
	}
	var target struct {
		TargetID string `json:"targetId"`
	}
	var session struct {
		SessionID string `json:"sessionId"`
	}
	b.must(t, "", "Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	b.must(t, "", "Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &session)
	p := &Page{b: b, session: session.SessionID, loaded: make(chan struct{})}
	b.mu.Lock()
	b.pages[p.session] = p
	b.mu.Unlock()
	t.Cleanup(func() { _, _ = b.call("", "Target.closeTarget", map[string]any{"targetId": target.TargetID}) })
	scheme, width := "light", o.Width
	if o.Dark {
		scheme = "dark"
	}
	if width == 0 {
		width = 1100
	}
	for _, c := range []struct {
		method string
		params map[string]any
	}{
		{"Page.enable", nil}, {"Network.enable", nil}, {"Log.enable", nil}, {"Runtime.enable", nil},
		{"Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}}},
		{"Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false}},
		{"Emulation.setScriptExecutionDisabled", map[string]any{"value": o.NoScripts}},
		{"Page.setBypassCSP", map[string]any{"enabled": o.Anything}},
	} {
		b.must(t, p.session, c.method, c.params, nil)
	}
	if o.Before != "" {
		b.must(t, p.session, "Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": o.Before}, nil)
	}
	b.must(t, p.session, "Page.navigate", map[string]any{"url": "file://" + filepath.ToSlash(path)}, nil)
	select {
	case <-p.loaded:
	case <-time.After(patience):
		t.Fatalf("%s is not loaded within %v", file, patience)
	}
	return p
}

func (b *Browser) must(t *testing.T, session, method string, params, to any) {
	t.Helper()
	raw, err := b.call(session, method, params)
	if err == nil && to != nil {
		err = json.Unmarshal(raw, to)
	}
	if err != nil {
		t.Fatalf("%s: %v", method, err)
	}
}

// Console is what the page, or the browser about it, wrote to the console,
// errors thrown included.
func (p *Page) Console() []string {
	p.b.mu.Lock()
	defer p.b.mu.Unlock()
	return append([]string(nil), p.console...)
}

// Requests are the addresses asked for, the page's own first.
func (p *Page) Requests() []string {
	p.b.mu.Lock()
	defer p.b.mu.Unlock()
	return append([]string(nil), p.requests...)
}

// Run evaluates an expression in the page, waits for it if it is a promise,
// and reads its value into to, unless that is nil.
func (p *Page) Run(t *testing.T, expression string, to any) {
	t.Helper()
	var out struct {
		Result struct {
			Value json.RawMessage `json:"value"`
		} `json:"result"`
		Thrown *struct {
			Text      string `json:"text"`
			Exception struct {
				Description string `json:"description"`
			} `json:"exception"`
		} `json:"exceptionDetails"`
	}
	p.b.must(t, p.session, "Runtime.evaluate", map[string]any{"expression": expression, "returnByValue": true, "awaitPromise": true}, &out)
	if out.Thrown != nil {
		t.Fatalf("%.80s: %s %s", expression, out.Thrown.Text, out.Thrown.Exception.Description)
	}
	if to == nil {
		return
	}
	if len(out.Result.Value) == 0 {
		t.Fatalf("%.80s: no value", expression)
	}
	if err := json.Unmarshal(out.Result.Value, to); err != nil {
		t.Fatalf("%.80s: %v", expression, err)
	}
}

// keys are the keys that Press knows, with their codes.
var keys = map[string]int{"Tab": 9, "Enter": 13, "Escape": 27, " ": 32, "End": 35, "Home": 36, "ArrowLeft": 37, "ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40}

// Press presses keys one after another.
func (p *Page) Press(t *testing.T, names ...string) {
	t.Helper()
	for _, k := range names {
		code, ok := keys[k]
		if !ok {
			t.Fatalf("no key %q", k)
		}
		down := map[string]any{"type": "keyDown", "key": k, "code": k, "windowsVirtualKeyCode": code}
		switch k {
		case "Enter":
			down["text"] = "\r"
		case " ":
			down["text"], down["code"] = " ", "Space"
		}
		p.b.must(t, p.session, "Input.dispatchKeyEvent", down, nil)
		p.b.must(t, p.session, "Input.dispatchKeyEvent", map[string]any{"type": "keyUp", "key": k, "code": down["code"], "windowsVirtualKeyCode": code}, nil)
	}
}

// Point moves the pointer to a place of the window.
func (p *Page) Point(t *testing.T, x, y float64) {
	t.Helper()
	p.b.must(t, p.session, "Input.dispatchMouseEvent", map[string]any{"type": "mouseMoved", "x": x, "y": y}, nil)
}

// Screenshot takes a picture of the whole page as PNG.
func (p *Page) Screenshot(t *testing.T) []byte {
	t.Helper()
	return p.data(t, "Page.captureScreenshot", map[string]any{"captureBeyondViewport": true})
}

// Print prints the page to PDF.
func (p *Page) Print(t *testing.T) []byte {
	t.Helper()
	return p.data(t, "Page.printToPDF", map[string]any{"preferCSSPageSize": true})
}

func (p *Page) data(t *testing.T, method string, params map[string]any) []byte {
	t.Helper()
	var out struct {
		Data string `json:"data"`
	}
	p.b.must(t, p.session, method, params, &out)
	data, err := base64.StdEncoding.DecodeString(out.Data)
	if err == nil && len(data) == 0 {
		err = errors.New("nothing came")
	}
	if err != nil {
		t.Fatalf("%s: %v", method, err)
	}
	return data
}
