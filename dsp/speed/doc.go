// Package speed measures how a tape runs by a tone on it: the speed, wow and flutter, the
// level, the balance of the channels, and how speed and level drift. Begin with New; Add
// takes blocks, Break parts two stretches, and Result returns the figures.
//
// Flutter is measured by IEC 60386, whose technical requirements AES6-2008 shares (so its
// official abstract): the frequency of the tone is demodulated, weighted, and compared with
// a threshold. Weighted peak flutter is the threshold that the weighted deviation, of either
// sign, exceeds for 5 % of the time. This is the 2-sigma method, which IEC 60386 Amendment 1
// (1988, clause 4.1) prefers and which in AES6-2008 replaces the quasi-peak meter. The share
// of 5 % is from memory. A sine reads 0.997 of its peak, a normal distribution 1.96 times
// its standard deviation.
//
// A head that turns while the tape runs shifts the phases of the two channels in opposite
// directions, which looks like flutter of opposite signs. All deviations are therefore
// those of the mean phase of both channels. A channel 20 dB below the other does not count.
//
// A stretch is sound without a break: a break is a call of Break, lost samples, or a level
// that is off for more than 0.25 s. In its first second the frequency of the tone is found
// (seek.go). From there on the sound is band-limited around the tone, decimated to about
// 2000 points per second and turned into frequency deviations (demodulate.go). Short holes
// of the level are left out (stretch.go), the rest is filtered (weighting.go) and summed
// (sums.go, spread.go). Memory does not grow with the sound.
//
// The clock of the sound card is taken as true unless Settings.RateFactor corrects it. A
// card is often wrong by 0.005 %, from memory, and no figure here includes that.
package speed
