package store

import (
	"encoding/binary"
	"errors"
	"math/bits"
)

// searchBlock is how many entries stand in one block of the words.
const searchBlock = 1024

// placeSet is some of the entries of one block.
type placeSet [searchBlock / 64]uint64

func (p *placeSet) set(place int)      { p[place/64] |= 1 << (place % 64) }
func (p *placeSet) clear(place int)    { p[place/64] &^= 1 << (place % 64) }
func (p *placeSet) has(place int) bool { return p[place/64]&(1<<(place%64)) != 0 }

func (p *placeSet) or(other *placeSet) {
	for i := range p {
		p[i] |= other[i]
	}
}

func (p *placeSet) and(other *placeSet) {
	for i := range p {
		p[i] &= other[i]
	}
}

func (p *placeSet) empty() bool { return *p == placeSet{} }

// bitmapSize is the length of a set written bit by bit, which no list has.
const bitmapSize = searchBlock / 8

var errPacked = errors.New("the words the entries are found by are damaged")

// pack writes the set as the steps from one place to the next, or where that is
// not shorter as one bit for each place.
func (p *placeSet) pack() []byte {
	var room [2 * bitmapSize]byte // for what is written until it is seen to be longer
	packed := room[:0]
	last := -1
	for i, word := range p {
		for ; word != 0; word &= word - 1 {
			place := i*64 + bits.TrailingZeros64(word)
			packed = binary.AppendUvarint(packed, uint64(place-last))
			last = place
		}
		if len(packed) >= bitmapSize {
			break
		}
	}
	if len(packed) < bitmapSize {
		return append(make([]byte, 0, len(packed)), packed...)
	}
	packed = make([]byte, 0, bitmapSize)
	for _, word := range p {
		packed = binary.LittleEndian.AppendUint64(packed, word)
	}
	return packed
}

func unpackPlaces(packed []byte) (p placeSet, err error) {
	if len(packed) == bitmapSize {
		for i := range p {
			p[i] = binary.LittleEndian.Uint64(packed[8*i:])
		}
		return p, nil
	}
	err = unpack(packed, func(place int64) error {
		if place >= searchBlock {
			return errPacked
		}
		p.set(int(place))
		return nil
	})
	return p, err
}

// packBlocks writes blocks, which rise, as the steps from one to the next.
func packBlocks(blocks []int64) []byte {
	packed := make([]byte, 0, len(blocks)+2)
	last := int64(-1)
	for _, block := range blocks {
		packed = binary.AppendUvarint(packed, uint64(block-last))
		last = block
	}
	return packed
}

func unpackBlocks(packed []byte) (blocks []int64, err error) {
	blocks = make([]int64, 0, len(packed))
	err = unpack(packed, func(block int64) error {
		blocks = append(blocks, block)
		return nil
	})
	return blocks, err
}

func unpack(packed []byte, each func(int64) error) error {
	last := int64(-1)
	for len(packed) > 0 {
		step, size := binary.Uvarint(packed)
		if size <= 0 || step == 0 || step > 1<<40 {
			return errPacked
		}
		packed = packed[size:]
		last += int64(step)
		if err := each(last); err != nil {
			return err
		}
	}
	return nil
}
