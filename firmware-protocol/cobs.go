package protocol

import "errors"

// Errors of byte stuffing.
var (
	errZeroInside = errors.New("zero byte inside a stuffed frame")
	errCutShort   = errors.New("stuffed frame ends before its block is full")
	errEmpty      = errors.New("stuffed frame is empty")
)

// AppendStuffed appends src to dst with consistent overhead byte stuffing, so that no
// byte is zero. It does not append the closing zero. Cheshire & Baker, IEEE/ACM Trans.
// Networking 7(2), 1999; a full block of 254 bytes at the very end gets no trailing 01.
func AppendStuffed(dst, src []byte) []byte {
	code := len(dst)
	dst = append(dst, 1)
	for i, b := range src {
		if b != 0 {
			dst = append(dst, b)
			dst[code]++
		}
		if b == 0 || dst[code] == 0xFF && i+1 < len(src) {
			code = len(dst)
			dst = append(dst, 1)
		}
	}
	return dst
}

// AppendUnstuffed appends the decoded bytes of src, which is stuffed and without its
// closing zero.
func AppendUnstuffed(dst, src []byte) ([]byte, error) {
	if len(src) == 0 {
		return dst, errEmpty
	}
	for len(src) > 0 {
		n := int(src[0])
		if n == 0 {
			return dst, errZeroInside
		}
		if n > len(src) {
			return dst, errCutShort
		}
		for _, b := range src[1:n] {
			if b == 0 {
				return dst, errZeroInside
			}
		}
		dst = append(dst, src[1:n]...)
		src = src[n:]
		if n < 0xFF && len(src) > 0 {
			dst = append(dst, 0)
		}
	}
	return dst, nil
}
