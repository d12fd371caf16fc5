package web

// shopChapters are for the shop's own people, who read English.
var shopChapters = []chapter{}
