// Package config turns one file, the environment and the command's flags into
// one checked Config, and can say of every value where it came from.
//
// It knows the file's keys, their defaults, their units and what is allowed,
// and it holds the default material grades. It refuses to know what the values
// are used for: it opens no database, calls no broker and reads no clock. It
// refuses to guess too: a key nobody knows, a duration without a unit, a number
// no saw can have is an error that names the place, the key, what was found and
// what is allowed, and all such errors are reported at once.
//
// Flags beat the environment (GULLET_…), the environment beats the file, the
// file beats the defaults. A wrong value is refused even where a higher layer
// hides it, or it would surface on the day the flag is left out.
//
// Secrets of channels are read only when they are asked for (Channel.Secrets), and
// neither an error nor what is printed shows one.
//
// Lengths are in the trade's inch units (in, ft) whatever shop.units says;
// shop.units chooses only what people are shown.
package config
