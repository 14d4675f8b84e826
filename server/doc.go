// Command dunlin follows infants up after a newborn screen for cystic fibrosis.
// It is the only package that wires the others together: flags and settings in,
// store opened, pages, jobs and commands started and stopped.
package main
