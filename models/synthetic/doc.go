// Package synthetic makes up employers of any size, to measure the program with: crews of forty, and as many weeks of work as are asked for. Nothing in it is anybody's.
// Beside them it has the references that the measurements are held against: the same rows into the same tables by the plainest way that PostgreSQL knows.
package synthetic
