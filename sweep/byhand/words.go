package byhand

import "headtrue/sweep/stream"

// Words is a stand-in.
func Words(g stream.Guidance) string { return string(g.Act) }
