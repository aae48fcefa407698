package dsp

import (
	"math"
	"math/bits"
	"math/cmplx"
)

// fft is the discrete Fourier transform of one length, a power of two from 4 on, in
// double precision: Cooley and Tukey's (Math. Comp. 19, 1965), decimated in time with
// radix 4, after one pass of radix 2 if the power is odd. Every pass but the first works
// in place; the first reads its input in the order that leaves the output in natural
// order.
type fft struct {
	first  int       // radix of the first pass
	order  []int     // places of the results of the first pass
	passes [][]turns // by pass, for each butterfly
}

// turns are the rotations of the second to fourth leg of a butterfly.
type turns struct{ second, third, fourth complex128 }

func newFFT(n int) *fft {
	f := &fft{first: 4}
	if bits.TrailingZeros(uint(n))%2 == 1 {
		f.first = 2
	}
	f.order = make([]int, n/f.first)
	for j := range f.order {
		at := 0
		for rest, left := j, len(f.order); left > 1; rest, left = rest/4, left/4 {
			at = 4*at + rest%4
		}
		f.order[j] = f.first * at
	}
	for m := f.first; m < n; m *= 4 {
		pass := make([]turns, m)
		for j := range pass {
			angle := -2 * math.Pi * float64(j) / float64(4*m)
			pass[j] = turns{cmplx.Rect(1, angle), cmplx.Rect(1, 2*angle), cmplx.Rect(1, 3*angle)}
		}
		f.passes = append(f.passes, pass)
	}
	return f
}

// forward sets z[k] to the sum over j of window[j] (re[j] + i im[j])
// exp(-2 pi i jk/n). All have the length of the transform.
func (f *fft) forward(z []complex128, window, re, im []float64) {
	if f.first == 4 {
		f.load4(z, window, re, im)
	} else {
		f.load2(z, window, re, im)
	}
	for _, pass := range f.passes {
		butterflies(z, pass)
	}
}

func (f *fft) load2(z []complex128, window, re, im []float64) {
	m := len(f.order)
	for j, at := range f.order {
		v, w := window[j], window[j+m]
		p, q := complex(v*re[j], v*im[j]), complex(w*re[j+m], w*im[j+m])
		z[at], z[at+1] = p+q, p-q
	}
}

func (f *fft) load4(z []complex128, window, re, im []float64) {
	order := f.order
	w0, w1, w2, w3 := quarters(window, len(order))
	a0, a1, a2, a3 := quarters(re, len(order))
	b0, b1, b2, b3 := quarters(im, len(order))
	for j, at := range order {
		y := z[at : at+4 : at+4]
		y[0], y[1], y[2], y[3] = butterfly(
			complex(w0[j]*a0[j], w0[j]*b0[j]), complex(w1[j]*a1[j], w1[j]*b1[j]),
			complex(w2[j]*a2[j], w2[j]*b2[j]), complex(w3[j]*a3[j], w3[j]*b3[j]))
	}
}

func quarters[T any](x []T, m int) (a, b, c, d []T) {
	return x[:m], x[m:][:m], x[2*m:][:m], x[3*m:][:m]
}

// butterflies makes one pass of radix 4 over the whole of z.
func butterflies(z []complex128, pass []turns) {
	m := len(pass)
	for ; len(z) >= 4*m; z = z[4*m:] {
		a, b, c, d := quarters(z, len(pass))
		for j := range pass {
			t := &pass[j]
			a[j], b[j], c[j], d[j] = butterfly(a[j], b[j]*t.second, c[j]*t.third, d[j]*t.fourth)
		}
	}
}

// butterfly returns the transform of length 4.
func butterfly(p, q, r, s complex128) (complex128, complex128, complex128, complex128) {
	even, odd, sum, across := p+r, p-r, q+s, q-s
	return even + sum, complex(real(odd)+imag(across), imag(odd)-real(across)),
		even - sum, complex(real(odd)-imag(across), imag(odd)+real(across))
}
