package roof

import "math/big"

// AreaOf makes an area of square nanometres.
func AreaOf(nm2 *big.Rat) Area { return Area{nm2} }
