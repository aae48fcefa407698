// Package capture reads sound, live or from files, as audio.Source, and writes clips. It
// measures nothing. It is the only package that may be built with cgo (PortAudio, under
// the build tag portaudio).
//
// Open takes a name:
//
//	pulse:deck.monitor     a PulseAudio source by its name (Linux, no cgo)
//	pulse:                 the sound server's default source
//	portaudio:ALSA/deck    a PortAudio input: host API, slash, device name
//	portaudio:             PortAudio's default input
//	-                      raw PCM on standard input, 16-bit little endian, two channels
//	raw:s16le, raw:f32le   the same with the sample format named
//	anything else          a WAV or FLAC file, told apart by its content
//
// Sound must have two channels. A live stream that delivers no more blocks ends in
// audio.ErrStopped. Lost samples are found with the monotonic clock, since sound servers
// do not report them.
package capture
