package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// length is a flag that takes a length with its unit.
type length struct {
	mm    float64
	given bool
}

func (l *length) String() string { return "" }
func (l *length) Type() string   { return "LENGTH" }

func (l *length) Set(text string) error {
	mm, err := beltmath.ReadLengthMM(text)
	if err != nil {
		return err
	}
	l.mm, l.given = mm, true
	return nil
}

// optional returns the length, or nil where the flag was not given.
func (l *length) optional() *float64 {
	if !l.given {
		return nil
	}
	return &l.mm
}

// unitFlag is a flag that takes the unit lengths are printed in.
type unitFlag struct{ unit beltmath.Unit }

func (u *unitFlag) String() string { return u.unit.String() }
func (u *unitFlag) Type() string   { return "UNIT" }

func (u *unitFlag) Set(text string) error {
	for _, unit := range []beltmath.Unit{beltmath.Millimeter, beltmath.Inch} {
		if text == unit.String() {
			u.unit = unit
			return nil
		}
	}
	return errors.New("give mm or in")
}

// driveFlags are the flags that describe pulleys and belt, and the arguments
// left when the section is not among them.
type driveFlags struct {
	pitch, driverFlange, drivenFlange length
}

func (f *driveFlags) addPitch(cmd *cobra.Command) {
	cmd.Flags().Var(&f.pitch, "pitch", "tooth `LENGTH` of a belt that is in no table, in place of SECTION")
}

func (f *driveFlags) addDriverFlange(cmd *cobra.Command) {
	cmd.Flags().Var(&f.driverFlange, "driver-flange", "diameter over the driver's flange, a `LENGTH`")
}

func (f *driveFlags) addDrivenFlange(cmd *cobra.Command) {
	cmd.Flags().Var(&f.drivenFlange, "driven-flange", "diameter over the driven pulley's flange, a `LENGTH`")
}

// check returns the rule for the arguments: those of the usage line, without
// SECTION where --pitch is given.
func (f *driveFlags) check(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		wanted := append([]string{"SECTION"}, names...)
		if f.pitch.given {
			wanted = names
		}
		if len(args) == len(wanted) {
			return nil
		}
		hint := cmd.CommandPath() + " --help shows examples"
		switch {
		case f.pitch.given && len(args) == len(wanted)+1:
			hint = "leave SECTION out with --pitch; a belt is in one of them"
		case len(args) > len(wanted):
			hint = `put a belt or a length with a space in quotes: "870 H5M", "22 1/2in"`
		}
		return &usageError{
			msg:  fmt.Sprintf("%s takes %s: %s needed, %d given", cmd.Name(), strings.Join(wanted, " "), arguments(len(wanted)), len(args)),
			hint: hint,
		}
	}
}

func arguments(n int) string {
	if n == 1 {
		return "1 argument"
	}
	return strconv.Itoa(n) + " arguments"
}

// section splits SECTION off the arguments, where it is among them.
func (f *driveFlags) section(args []string) (section string, rest []string) {
	if f.pitch.given {
		return "", args
	}
	return args[0], args[1:]
}

// readPulley reads the teeth of a pulley.
func readPulley(name, text string, flange *length) (*pb.Pulley, error) {
	teeth, err := readCount(name, text)
	return &pb.Pulley{ToothCount: teeth, FlangeDiameterMm: flange.optional()}, err
}

// readCount reads a whole number; its range is for the service to judge.
func readCount(name, text string) (int32, error) {
	n, err := strconv.ParseInt(text, 10, 32)
	if err != nil {
		return 0, &usageError{
			msg:  name + " is " + quoted(text) + ": give teeth as a whole number, such as 36",
			hint: "the order of the arguments is in the help, with examples",
		}
	}
	return int32(n), nil
}

// readLength reads an argument that is a length.
func readLength(name, text string) (float64, error) {
	mm, err := beltmath.ReadLengthMM(text)
	if err != nil {
		return 0, &usageError{msg: name + " is " + quoted(text) + ": " + why(err)}
	}
	return mm, nil
}

// noArguments refuses arguments.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return &usageError{msg: cmd.Name() + " takes no arguments, " + strconv.Itoa(len(args)) + " given"}
}

// refuseEmpty refuses a flag that is given as an empty text, as a script with
// an unset variable does: it would be taken as not given. To serve, it means to
// leave aside what the environment says.
func refuseEmpty(cmd *cobra.Command) error {
	var err error
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if err == nil && f.Value.Type() == "string" && f.Value.String() == "" && cmd.Name() != "serve" {
			value, _ := pflag.UnquoteUsage(f)
			err = &usageError{msg: "--" + f.Name + ` is "": give its ` + value + ", or leave the flag out"}
		}
	})
	return err
}
