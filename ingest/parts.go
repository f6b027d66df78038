package ingest

import (
	"runtime"
	"sync"
)

// partRows is how many rows are worth a goroutine of their own.
const partRows = 10000

// parts is into how many parts n rows are cut: at most one for each core.
func parts(n int) int { return max(1, min(runtime.GOMAXPROCS(0), n/partRows)) }

// inParts has do work on n rows in parts at the same time, and returns when
// all are done. What do makes must not depend on where the parts begin.
func inParts(n int, do func(part, from, to int)) {
	count := parts(n)
	if count == 1 {
		do(0, 0, n)
		return
	}
	var wait sync.WaitGroup
	for p := range count {
		wait.Go(func() { do(p, p*n/count, (p+1)*n/count) })
	}
	wait.Wait()
}
