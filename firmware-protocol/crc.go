package protocol

// CRC is the checksum of a frame: 16 bits, polynomial 1021, initial value FFFF,
// most significant bit first, no final exclusive-or.
func CRC(data []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range data {
		crc ^= uint16(b) << 8
		for range 8 {
			if crc&0x8000 != 0 {
				crc = crc<<1 ^ 0x1021
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}
