package batch

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
)

// each does the jobs 0 to n-1, as many at a time as there are processors for
// the program. Jobs begin in their order; begin is told of each and is never
// called twice at once. After a fault no further job begins. The error is
// that of the first job in their order, whichever ended first, so that two
// runs say the same. A panic is the error of its job.
func each(ctx context.Context, n int, begin func(i int), do func(i int) error) error {
	var (
		mu     sync.Mutex
		next   int
		failed bool
		errs   = make([]error, n)
		wait   sync.WaitGroup
	)
	take := func() (int, bool) {
		mu.Lock()
		defer mu.Unlock()
		if failed || next == n || ctx.Err() != nil {
			return 0, false
		}
		next++
		begin(next - 1)
		return next - 1, true
	}
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for {
				i, ok := take()
				if !ok {
					return
				}
				if errs[i] = guarded(func() error { return do(i) }); errs[i] != nil {
					mu.Lock()
					failed = true
					mu.Unlock()
				}
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

// guarded gives a panic as an error: one in a goroutine would end the program
// with a half-written folder left behind.
func guarded(do func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a fault of the program (%v); please report it\n%s", p, debug.Stack())
		}
	}()
	return do()
}
