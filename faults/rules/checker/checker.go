package checker

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/population/evidence"
)

// Options are how a program is run.
type Options struct {
	Args     []string      // the program and its arguments
	Limit    time.Duration // for each answer [10 s]; for the first one, to the header, half a minute more
	Restarts int           // how often in all it may be started again [10]; less than 0 for never
	Notice   string        // in the header
}

// toStart is how much longer the first answer of a program may take.
const toStart = 30 * time.Second

// Checker is a program that judges. It may be used by several goroutines; the
// program is asked about one case at a time.
type Checker struct {
	opt      Options
	head     []byte
	all      []evidence.Observable
	answer   *Answer // of the first start, as needs: it does not change
	needs    []evidence.Observable
	channels []string
	meters   []string

	mu       sync.Mutex
	process  *process // nil where none runs
	id       uint64
	restarts int
	closed   bool
	troubles []rules.Trouble
}

var _ rules.Judge = (*Checker)(nil)

// Start starts the program and asks it what it wants to know of a board. Close
// must be called in the end.
func Start(ctx context.Context, b *models.Board, opt Options) (*Checker, error) {
	if len(opt.Args) == 0 || opt.Args[0] == "" {
		return nil, errors.New("program: found none, expected one with its arguments")
	}
	if opt.Limit <= 0 {
		opt.Limit = 10 * time.Second
	}
	if opt.Restarts == 0 {
		opt.Restarts = 10
	}
	c := &Checker{opt: opt, all: evidence.All(b)}
	h := header(b, opt.Notice, c.all)
	for i := range h.Channels {
		c.channels = append(c.channels, h.Channels[i].Name)
	}
	c.meters = h.Meters
	head, err := json.Marshal(h)
	if err != nil {
		return nil, err
	}
	c.head = append(head, '\n')
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.start(ctx); err != nil {
		return nil, c.named(err)
	}
	if c.answer.InHand && len(c.meters) == 0 {
		c.end(false)
		return nil, c.named(errors.New("in_hand: found true, expected false: the board has no meter"))
	}
	return c, nil
}

func (c *Checker) named(err error) error { return fmt.Errorf("%s: %w", c.opt.Args[0], err) }

// start starts a process and shows it the header. On an error none runs.
func (c *Checker) start(ctx context.Context) error {
	p, err := start(c.opt.Args)
	if err != nil {
		return err
	}
	got, err := p.ask(ctx, c.head, c.opt.Limit+toStart)
	var a *Answer
	var needs []evidence.Observable
	if err == nil {
		if a, needs, err = answer(got.text, c.all); err != nil {
			err = &errWrong{got.number, err}
		}
	}
	if err == nil && c.answer != nil && (!slices.Equal(a.Observables, c.answer.Observables) || !slices.Equal(a.Rules, c.answer.Rules) || a.InHand != c.answer.InHand) {
		err = &errWrong{got.number, errors.New("found another answer than the first time, expected the same")}
	}
	if err != nil {
		p.end(false)
		return p.complaint(err)
	}
	c.process = p
	if c.answer == nil {
		c.answer, c.needs = a, needs
	}
	return nil
}

func (c *Checker) end(gently bool) {
	if c.process != nil {
		c.process.end(gently)
		c.process = nil
	}
}

// Close ends the program and waits for it.
func (c *Checker) Close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.closed = true
	c.end(true)
}

// Needs implements [rules.Judge].
func (c *Checker) Needs() []evidence.Observable { return slices.Clone(c.needs) }

// InHand implements [rules.Judge].
func (c *Checker) InHand() bool { return c.answer.InHand }

// Rules implements [rules.Judge].
func (c *Checker) Rules() []string { return slices.Clone(c.answer.Rules) }

// Judge implements [rules.Judge]. A case on which the program ends or takes too
// long twice, or which it says it can't judge, has no conclusions and is
// counted. The error tells of lines that are no answers, of a program that was
// started too often, or that ctx was cancelled.
func (c *Checker) Judge(ctx context.Context, dst []*rules.Conclusion, x *rules.Case) ([]*rules.Conclusion, error) {
	if len(x.Values) != len(c.needs) {
		return dst, fmt.Errorf("case %d: found %d values, expected %d", x.Index, len(x.Values), len(c.needs))
	}
	meter := ""
	if c.answer.InHand {
		if x.Meter < 0 || x.Meter >= len(c.meters) {
			return dst, fmt.Errorf("case %d: found meter %d in hand, expected 0 to %d", x.Index, x.Meter, len(c.meters)-1)
		}
		meter = c.meters[x.Meter]
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return dst, c.named(errors.New("found a case after the end, expected none"))
	}
	var last error
	for range 2 {
		if err := c.ready(ctx, last); err != nil {
			return dst, c.named(err)
		}
		c.id++
		line, err := question(c.id, meter, c.needs, x.Values)
		if err != nil {
			return dst, c.named(err)
		}
		got, err := c.process.ask(ctx, line, c.opt.Limit)
		if err == nil {
			out, err := verdict(got.text, c.id, c.channels, c.answer.Rules)
			var unable errUnable
			switch {
			case err == nil:
				return append(dst, out...), nil
			case errors.As(err, &unable):
				c.trouble(x.Index, err)
				return dst, nil
			}
			c.end(false)
			return dst, c.named(&errWrong{got.number, err})
		}
		p := c.process
		c.end(false)
		err = p.complaint(err) // all of it has come when the program is gone
		if !errors.Is(err, errEnd) && !errors.Is(err, errTime) {
			return dst, c.named(err)
		}
		last = err
	}
	c.trouble(x.Index, last)
	return dst, nil
}

// ready makes sure that a process runs. last is why there is none.
func (c *Checker) ready(ctx context.Context, last error) error {
	for c.process == nil {
		if c.restarts >= c.opt.Restarts {
			if last == nil {
				last = errEnd
			}
			return fmt.Errorf("started again %d times, as often as it may: %w", c.restarts, last)
		}
		c.restarts++
		if err := c.start(ctx); err != nil {
			if !errors.Is(err, errEnd) && !errors.Is(err, errTime) {
				return err
			}
			last = err
		}
	}
	return nil
}

func (c *Checker) trouble(index uint64, err error) {
	if len(c.troubles) == 0 {
		c.troubles = []rules.Trouble{{Index: index, Problem: err.Error()}}
	}
	t := &c.troubles[0]
	if index < t.Index {
		t.Index, t.Problem = index, err.Error()
	}
	t.Times++
}

// Troubles tells of the cases that came to no verdict: how many, and which was
// the first board. There is one entry, without a rule, or none.
func (c *Checker) Troubles() []rules.Trouble {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.troubles)
}

// Restarts tells how often the program was started again.
func (c *Checker) Restarts() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.restarts
}
