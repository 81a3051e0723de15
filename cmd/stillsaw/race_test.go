//go:build race

package main

// Under the race detector nothing is quick.
const raceDetector = true
