package main

import (
	"github.com/spf13/cobra"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// limitFlags say what counts as fitting.
type limitFlags struct {
	fitLow, fitHigh, marginalLow, marginalHigh length
	marginalMesh, rejectedMesh                 int32
}

func (f *limitFlags) add(cmd *cobra.Command) {
	f.addFit(cmd)
	flags := cmd.Flags()
	flags.Var(&f.marginalLow, "marginal-low", "least deviation that is marginal, a `LENGTH` (-0.15mm)")
	flags.Var(&f.marginalHigh, "marginal-high", "greatest deviation that is marginal, a `LENGTH` (0.30mm)")
	flags.Int32Var(&f.marginalMesh, "marginal-mesh", 6, "fewer `TEETH` in mesh are marginal")
	flags.Int32Var(&f.rejectedMesh, "rejected-mesh", 4, "fewer `TEETH` in mesh are rejected")
}

// addFit adds the limits of what fits alone.
func (f *limitFlags) addFit(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.Var(&f.fitLow, "fit-low", "least deviation that fits, a `LENGTH`, below 0 slack (-0.05mm)")
	flags.Var(&f.fitHigh, "fit-high", "greatest deviation that fits, a `LENGTH`, above 0 tight (0.15mm)")
}

// limits returns what was given, for the service to judge.
func (f *limitFlags) limits(cmd *cobra.Command) *pb.FitLimits {
	limits := &pb.FitLimits{
		FitLowMm: f.fitLow.optional(), FitHighMm: f.fitHigh.optional(),
		MarginalLowMm: f.marginalLow.optional(), MarginalHighMm: f.marginalHigh.optional(),
	}
	if cmd.Flags().Changed("marginal-mesh") {
		limits.MarginalMeshedToothCount = &f.marginalMesh
	}
	if cmd.Flags().Changed("rejected-mesh") {
		limits.RejectedMeshedToothCount = &f.rejectedMesh
	}
	return limits
}

// limitNames are the flags of limits in a request.
var limitNames = fieldNames{
	"limits.fit_low_mm":                  "--fit-low",
	"limits.fit_high_mm":                 "--fit-high",
	"limits.marginal_low_mm":             "--marginal-low",
	"limits.marginal_high_mm":            "--marginal-high",
	"limits.marginal_meshed_tooth_count": "--marginal-mesh",
	"limits.rejected_meshed_tooth_count": "--rejected-mesh",
}
