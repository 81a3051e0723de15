// Package secure makes the mill's pages come over HTTPS where there is no IT: an
// authority of the mill's own, the certificates it issues, and those a public
// authority gives a mill that has a public name.
//
// The authority has two certificates. The root is what phones install. Its key
// signs one issuer and is forgotten, never written anywhere. The issuer signs the
// server's own certificates; its key lies in the data folder beside the key of
// the record. Both are limited, by name constraints that must be understood
// (critical), to the names of this computer and the private networks it is in,
// so whoever steals the key can't pass for a bank or a mail server. That the
// limits stand in the issuer, too, matters: a device that follows RFC 5280 need
// not look at those of a root it was told to trust (section 6.1 takes only name
// and key of the trust anchor), but must look at those of a certificate under it.
package secure
