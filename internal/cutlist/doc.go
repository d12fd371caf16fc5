// Package cutlist understands cut lists as people have them: a sheet of cells,
// a CSV file, a text pasted out of a message. It finds the columns by their
// headings and by what stands in them, and answers for each row: understood as
// so many pieces of a length, a question with the answers it could have, or
// passed over with the reason. Nothing that could be read two ways is guessed,
// and no row is lost.
//
// A line of text is taken apart by package order and a length is read by package
// measure, as everywhere; what is added here is the doubt. 12-6 may be 12' 6"
// or a date that a sheet made of it, 12.6 may be decimal feet or 12' 6", 144 may
// be inches or millimetres: such rows are asked about, once for the whole list
// or each by itself.
//
// It knows no products, prices or pages, and it keeps nothing: the same sheet
// with the same answers is understood the same.
package cutlist
