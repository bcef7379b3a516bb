package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"google.golang.org/grpc"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// checkRun is one run of check: the file goes through the service in chunks,
// a few of them at once, and the results go on in order.
type checkRun struct {
	*app
	flags *checkFlags
	feed  *feeder
	out   *results
	bar   *progress
}

// run judges the whole file. Interrupted, it keeps what it has.
func (c *checkRun) run(ctx context.Context) error {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	conn, hangUp, err := c.connect()
	if err != nil {
		return err
	}
	defer hangUp()
	err = c.exchange(ctx, conn)
	c.bar.clear()
	if err == nil {
		err = c.out.finish()
	}
	if err != nil && ctx.Err() != nil {
		err = fmt.Errorf("stopped after %d rows", c.out.Rows)
	}
	if err != nil {
		return c.broken(err)
	}
	return c.conclude()
}

// exchange sends the file and writes the results. Where they end early it
// saves what there is.
func (c *checkRun) exchange(ctx context.Context, conn grpc.ClientConnInterface) error {
	chunks := make(chan *chunk, chunksInFlight)
	go c.feed.run(ctx, chunks)
	var unwritten error
	x := &exchange{
		open: func(ctx context.Context) (checkStream, error) {
			return pb.NewDriveServiceClient(conn).StreamCheckDrives(ctx)
		},
		limits: c.feed.limits, chunks: chunks, remote: &c.output.remoteFlags,
		take: func(sent *chunk, found []*pb.CheckResult) error {
			unwritten = c.take(sent, found)
			return unwritten
		},
		tell: func(text string) {
			c.bar.clear()
			c.complain("", text)
		},
	}
	err := x.run(ctx)
	if err == nil {
		err = c.feed.err
	}
	if err == nil || unwritten != nil {
		return err
	}
	if _, ok := status.FromError(err); ok {
		err = newRefusal(err, limitNames, &c.output.remoteFlags)
	}
	return errors.Join(err, c.out.saveNow())
}

// take writes the results of a chunk, but for those of the earlier run.
func (c *checkRun) take(sent *chunk, found []*pb.CheckResult) error {
	for i, result := range found {
		if sent.first+i < c.feed.resume.Rows {
			continue
		}
		if fault := sent.faults[i]; fault != nil {
			result = entry.Unreadable(result, fault)
		}
		if err := c.out.add(sent.lines[i], result); err != nil {
			return err
		}
	}
	if sent.first+len(found) <= c.feed.resume.Rows {
		return nil
	}
	c.out.Input = sent.digest
	if err := errors.Join(c.out.pass(c.bar.clear), c.out.save()); err != nil {
		return err
	}
	c.bar.show(c.out.Rows, sent.bytes)
	return nil
}

// broken adds to an error how to go on.
func (c *checkRun) broken(err error) error {
	var failed *failure
	switch {
	case errors.As(err, &failed):
		return err
	case c.out.state != "" && c.out.Bytes != nil:
		return &failure{err, "the results so far are in " + c.flags.out + ".part: the same command with --resume goes on from there"}
	}
	return err
}

// conclude tells the summary and turns bad drives into the exit state.
func (c *checkRun) conclude() error {
	if (c.output.json || c.output.csv) && c.flags.out == "" {
		_, _ = fmt.Fprintln(c.stderr, "beltspan: "+c.out.Verdicts.String())
	}
	if c.out.Verdicts.failing(c.flags.failOn.verdict) > 0 {
		return errAllSaid
	}
	return nil
}
