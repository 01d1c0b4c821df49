package dataset

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

// Parts are the finished parts of a whole data set.
type Parts struct {
	Description *Description
	parts       []part // in the order of their boards
}

type part struct {
	name     string
	from, to uint64
}

// Open checks the parts called names: that each is finished and undamaged,
// that all are of one data set, and that together they have each board once.
// The error tells everything that is wrong, with the names.
func Open(ctx context.Context, names ...string) (*Parts, error) {
	if len(names) == 0 {
		return nil, errors.New("found no parts, expected at least one")
	}
	p := &Parts{}
	var errs []error
	first := ""
	for _, name := range names {
		d, x, err := check(ctx, name)
		switch {
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case err != nil:
			errs = append(errs, fmt.Errorf("%s: %w", name, err))
			if d == nil {
				continue
			}
		}
		if p.Description == nil {
			p.Description, first = d, name
		} else if err := sameSet(d, p.Description); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w, as %s has it", name, err, first))
			continue
		}
		p.parts = append(p.parts, x)
	}
	slices.SortStableFunc(p.parts, func(a, b part) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	if p.Description != nil {
		errs = append(errs, p.gaps()...)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return p, nil
}

// gaps tells which boards are there twice or not at all.
func (p *Parts) gaps() []error {
	var errs []error
	missing := func(from, to uint64) {
		errs = append(errs, fmt.Errorf("found no part with boards %s, expected all of %s", span(from, to), span(0, p.Description.Boards)))
	}
	next, last := uint64(0), ""
	for _, x := range p.parts {
		if x.from == x.to {
			continue
		}
		if x.from > next {
			missing(next, x.from)
		} else if x.from < next {
			errs = append(errs, fmt.Errorf("%s: found boards %s, which %s has too, expected each once", x.name, span(x.from, min(x.to, next)), last))
		}
		if x.to > next {
			next, last = x.to, x.name
		}
	}
	if next < p.Description.Boards {
		missing(next, p.Description.Boards)
	}
	return errs
}

// check reads a part from end to end. The description is there where the
// header is.
func check(ctx context.Context, name string) (*Description, part, error) {
	var d *Description
	x := part{name: name}
	err := reading(name, func(l *log) error {
		d, x.from, x.to = l.header.Description, l.header.From, l.header.To
		for {
			if err := ctx.Err(); err != nil {
				return err
			}
			_, err := l.block()
			var torn *tornError
			switch {
			case err == nil:
				continue
			case err != io.EOF && !errors.As(err, &torn):
				return err
			case l.next < l.header.To:
				return fmt.Errorf("found a part that is not finished, with %d of %d boards, expected all", l.next-x.from, x.to-x.from)
			case err != io.EOF:
				return fmt.Errorf("byte %d: found something after the last block, expected the end of the file", l.offset)
			}
			return nil
		}
	})
	return d, x, err
}

// reading opens a part for the time of work.
func reading(name string, work func(*log) error) error {
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() {
		return errForeign
	}
	f, err := os.Open(name)
	if err != nil {
		return plain(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	l, err := openLog(f, info.Size())
	if err != nil {
		return err
	}
	return work(l)
}

// Rows gives every row to yield, in the order of the boards, holding no more
// than a block of them. The row is the caller's own.
func (p *Parts) Rows(ctx context.Context, yield func(*Row) error) error {
	for _, x := range p.parts {
		var stopped error // by yield or ctx: no fault of the part
		err := reading(x.name, func(l *log) error {
			for l.next < x.to {
				if stopped = ctx.Err(); stopped != nil {
					return stopped
				}
				b, err := l.block()
				if err != nil {
					return err
				}
				err = l.rows(b, func(r *Row) error {
					stopped = yield(r)
					return stopped
				})
				if err != nil {
					return err
				}
			}
			return nil
		})
		if stopped != nil {
			return stopped
		}
		if err != nil {
			return fmt.Errorf("%s: %w", x.name, err)
		}
	}
	return nil
}
