package command

import (
	"runtime"
	"sync"
)

// queue is work for all cores, begun in the order in which it was added.
type queue struct {
	jobs []func()
}

// run begins the work. What is added later is not done.
func (q *queue) run() {
	next := make(chan func(), len(q.jobs))
	for _, j := range q.jobs {
		next <- j
	}
	close(next)
	for range runtime.GOMAXPROCS(0) {
		go func() {
			for j := range next {
				j()
			}
		}()
	}
}

// later is a value that is being worked out.
type later[T any] struct {
	done  sync.WaitGroup
	value T
	err   error
}

// add puts work into a queue; its value is had by wait.
func add[T any](q *queue, work func() (T, error)) *later[T] {
	l := &later[T]{}
	l.done.Add(1)
	q.jobs = append(q.jobs, func() {
		defer l.done.Done()
		l.value, l.err = work()
	})
	return l
}

// wait returns the value once it is there.
func (l *later[T]) wait() (T, error) {
	l.done.Wait()
	return l.value, l.err
}
