// Package path computes one closed belt on many wheels: toothed pulleys inside
// the loop, smooth wheels inside it or on the belt's back.
//
// The belt is its pitch line, a closed curve of straight spans and circular
// arcs. A toothed wheel carries it on the pitch circle, p z / (2 pi). A smooth
// wheel carries it farther out than its own rim: inside the loop the belt rides
// on its tooth tips, tooth height and pitch line differential away; a wheel on
// the back is belt height less both of these away. Derived from the geometry
// of the section; toothed wheels agree with the two-pulley kernel of beltmath.
//
// Lengths are millimeters, angles inside are radians.
package path
