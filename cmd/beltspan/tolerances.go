package main

import "github.com/spf13/cobra"

// toleranceFlags are the tolerances that a fit has, of one drive or of a base.
type toleranceFlags struct {
	belt, uncertainty                     length
	driverPlay, drivenPlay, oversize      length
	warmer, plateExpansion, beltExpansion float64
}

func (f *toleranceFlags) addTolerances(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.Var(&f.belt, "belt-tolerance", "how far a belt's length may be off, both ways, a `LENGTH` (the section's table)")
	flags.Var(&f.uncertainty, "uncertainty", "how far --measured may be off, both ways, a `LENGTH` (0)")
	flags.Var(&f.driverPlay, "driver-play", "how far the driver's axle can be pulled toward the other, a `LENGTH` (0)")
	flags.Var(&f.drivenPlay, "driven-play", "the same of the driven pulley's axle, a `LENGTH` (0)")
	flags.Var(&f.oversize, "oversize", "how much larger than nominal the pulleys may be, a `LENGTH` on the diameter (0)")
	flags.Float64Var(&f.warmer, "warmer", 0, "`KELVINS` by which it runs warmer than when measured")
	flags.Float64Var(&f.plateExpansion, "plate-expansion", 0, "thermal expansion of the plates in `1/K`, such as 23e-6")
	flags.Float64Var(&f.beltExpansion, "belt-expansion", 0, "thermal expansion of the belt in `1/K`")
}
