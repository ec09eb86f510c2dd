package payrun

import "iter"

// overlapped works on parts one after the other, each in a goroutine beside the caller's, who meanwhile hands on what came of the part before and fetches the next. Fetching and
// handing on stay with the caller, whose transaction it is; at most two parts are held, and their order is kept.
func overlapped[P, R any](parts iter.Seq2[P, error], work func(P) R, handOn func(R) error) error {
	var wait func() R
	defer func() {
		if wait != nil { // something failed: the work ends before the transaction does
			wait()
		}
	}()
	for p, err := range parts {
		if err != nil {
			return err
		}
		before := wait
		var result R
		if before != nil {
			result = before()
		}
		wait = begun(func() R { return work(p) })
		if before != nil {
			if err := handOn(result); err != nil {
				return err
			}
		}
	}
	if wait == nil {
		return nil
	}
	result := wait()
	wait = nil
	return handOn(result)
}

// begun begins some work beside the caller; what it returns waits for the end. A panic is raised again where it is waited for.
func begun[R any](work func() R) (wait func() R) {
	done := make(chan struct{})
	var result R
	var panicked any
	go func() {
		defer close(done)
		defer func() { panicked = recover() }()
		result = work()
	}()
	return func() R {
		<-done
		if panicked != nil {
			panic(panicked)
		}
		return result
	}
}
