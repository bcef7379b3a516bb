package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"github.com/beltspan/beltspan/server"
)

const (
	callTimeout   = 30 * time.Second // for one answer, all its pages included
	maxAnswerSize = 16 << 20         // bytes taken from a service
)

// question is one request of a command: how to ask it, and how to show its
// answer. R is the response as REST returns it.
type question[R proto.Message] struct {
	ask   func(context.Context, grpc.ClientConnInterface) (R, error)
	names fieldNames
	text  func(*page, R)
	rows  func(R) [][]string // for --csv; nil for a command without
	then  func(R) error      // what follows the printed answer; nil for nothing
}

// answer asks and prints, in the form the flags want.
func answer[R proto.Message](cmd *cobra.Command, a *app, q question[R]) error {
	if a.output.json && a.output.csv {
		return &usageError{msg: "--json and --csv are two forms of one answer: give one of them"}
	}
	conn, hangUp, err := a.connect()
	if err != nil {
		return err
	}
	defer hangUp()
	ctx, cancel := context.WithTimeout(cmd.Context(), callTimeout)
	defer cancel()
	response, err := q.ask(ctx, conn)
	if err != nil {
		return newRefusal(err, q.names, &a.output.remoteFlags)
	}
	if err := show(a, q, response); err != nil || q.then == nil {
		return err
	}
	return q.then(response)
}

func show[R proto.Message](a *app, q question[R], response R) error {
	switch {
	case a.output.json:
		return a.printJSON(response)
	case a.output.csv:
		return a.printCSV(q.rows(response))
	}
	p := &page{unit: a.output.units.unit, names: q.names}
	q.text(p, response)
	return a.print(p.String())
}

// connect returns the way to the service: in this process, or at --server.
func (a *app) connect() (conn grpc.ClientConnInterface, hangUp func(), err error) {
	if err := a.output.check(); err != nil {
		return nil, nil, err
	}
	if a.output.server == "" {
		local, err := server.NewConn(server.DefaultConfig())
		if err != nil {
			return nil, nil, err
		}
		return local, func() { _ = local.Close() }, nil
	}
	client, err := a.output.dial(a.getenv)
	if err != nil {
		return nil, nil, err
	}
	return client, func() { _ = client.Close() }, nil
}
