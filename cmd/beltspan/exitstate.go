package main

import (
	"errors"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// The exit states.
//
// One rule holds for every command: 1 where there is no answer, or where the
// answer says that what was asked about does not do. So it is where a search
// finds nothing, a drive is rejected or invalid, a belt is likelier bad than
// good or overloaded, parts of a base are too close. Verdicts of MARGINAL,
// cautions and notes leave it at 0, but for `check --fail-on marginal`.
const (
	exitAnswered = 0
	exitNoAnswer = 1
	exitUsage    = 2
)

const exitHelp = `Exit states: 0 answered, and what was asked about does; 1 no answer (no such
drive, a value out of range, a service that cannot be reached), or it does not do:
nothing is found, a drive is rejected or invalid, a belt is likelier bad than good
or overloaded, something in a base is too close; marginal verdicts, cautions and
notes leave 0; 2 wrong usage (unknown command or flag, a missing argument, text
that is no length or count).`

// errAllSaid makes the exit state 1 where the answer itself says why.
var errAllSaid = errors.New("the answer says why it is none")

// passesIf makes the exit state of an answer that was printed.
func passesIf[R any](does func(R) bool) func(R) error {
	return func(r R) error {
		if does(r) {
			return nil
		}
		return errAllSaid
	}
}

// failing tells whether a verdict says that a drive does not do.
func failing(v pb.Verdict) bool {
	return v == pb.Verdict_VERDICT_REJECTED || v == pb.Verdict_VERDICT_INVALID
}

// likelyGood tells whether a belt is no likelier bad than good.
func likelyGood[R interface{ GetShareGood() float64 }](fit R) bool { return fit.GetShareGood() >= 0.5 }
