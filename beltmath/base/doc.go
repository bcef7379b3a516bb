// Package base plans one side of a vehicle base: a row of wheels on a rail,
// joined by closed timing belts on fixed centers.
//
// Frame: x along the rail from the first axle, y up and 0 at the axle height
// of an undropped smallest wheel, z across the cavity. Wheels stand on one
// floor unless their axle is dropped, so axle i has the height
//
//	y_i = (wheel diameter_i - smallest wheel diameter)/2 - drop_i
//
// A belt fixes the true center distance C of its two axles; along the rail it
// leaves the rail spacing
//
//	dx = sqrt(C^2 - dy^2)
//
// Source: the theorem of Pythagoras; the frame is ours. A row whose wheels
// stand at different heights rocks; where it then touches the floor is not
// modeled.
//
// An idler may take up what a belt is too long for its axles. Its place is told
// by the share of the line of centers that lies on the side of the axle of
// lower index, and by the offset from that line, at right angles to it, up
// positive. Where the belt is taut then is what package path finds for three
// wheels.
//
// As in beltmath, lengths are millimeters and the same input gives the same
// answer. Axles, links and gaps count from 0; people see axle 1, 2, 3.
package base
